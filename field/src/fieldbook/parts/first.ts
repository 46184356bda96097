/* The screen that the book opens with leaves the focus where the browser put it. */
export const first = { isOver: false };

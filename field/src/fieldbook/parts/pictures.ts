/* Drawn cells, one for each sign that a cell can show: a chunk of its own, loaded with the signs. */

type Pictures = Record<string, string>;

let opened: Promise<Pictures> | null = null;

export function openPictures(): Promise<Pictures> {
  opened ??= import('./cells.json').then((file) => file.default);
  return opened;
}

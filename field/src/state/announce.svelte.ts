/* A sentence for the live region: read out by a screen reader and shown for a while. */

let sentence = $state('');
let timer: ReturnType<typeof setTimeout> | undefined;
const SHOWN_MS = 8000;

export const announced = {
  get sentence(): string {
    return sentence;
  },
};

export function announce(words: string): void {
  sentence = words;
  clearTimeout(timer);
  timer = setTimeout(() => (sentence = ''), SHOWN_MS);
}

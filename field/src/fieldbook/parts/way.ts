/* The way from screen to screen: the shell says how, once, before the first screen stands. */

export type Go = (path: string, options?: { replace?: boolean }) => void;

let goes: Go = () => {
  throw new Error('Expected setWay before the first screen.');
};
let base = '';

export function setWay(way: { go: Go; base: string }): void {
  goes = way.go;
  base = way.base.replace(/\/$/, '');
}

export function go(path: string, options?: { replace?: boolean }): void {
  goes(path, options);
}

export function addressOf(path: string): string {
  return `${base}${path}`;
}

/* A path with its names written so that any letter may stand in them. */
export function to(...names: (string | number)[]): string {
  return `/${names.map((name) => encodeURIComponent(String(name))).join('/')}`;
}

/* The key of an apiary found on the way: F and eight letters or figures, none that are mistaken for another. */

const SIGNS = '0123456789ABCDEFGHJKMNPQRSTVWXYZ';
const LENGTH = 8;

export function newFoundKey(): string {
  const random = crypto.getRandomValues(new Uint8Array(LENGTH));
  return `F${Array.from(random, (byte) => SIGNS[byte % SIGNS.length]).join('')}`;
}

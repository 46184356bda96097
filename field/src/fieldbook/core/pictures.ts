/* A picture as the record keeps it: drawn anew, so that nothing is left of where and with what it was taken. */

import { Trouble } from './trouble';

/* Project choice: a cell of comb (5.4 mm) is some 40 pixels wide in a frame photographed whole. */
export const LONGEST_SIDE = 2048;
const QUALITY = 0.85;

export interface Picture {
  picture: Blob;
  width: number;
  height: number;
}

export function fitted(width: number, height: number): { width: number; height: number } {
  const scale = Math.min(1, LONGEST_SIDE / Math.max(width, height));
  return { width: Math.max(1, Math.round(width * scale)), height: Math.max(1, Math.round(height * scale)) };
}

export async function redraw(file: Blob): Promise<Picture> {
  let image: ImageBitmap;
  try {
    image = await createImageBitmap(file, { imageOrientation: 'from-image' });
  } catch (error) {
    throw new Trouble('fieldbook.phone_no_picture', {}, { cause: error });
  }
  const size = fitted(image.width, image.height);
  const canvas = document.createElement('canvas');
  canvas.width = size.width;
  canvas.height = size.height;
  const pen = canvas.getContext('2d', { alpha: false });
  pen?.drawImage(image, 0, 0, size.width, size.height);
  image.close();
  const picture = await new Promise<Blob | null>((done) => canvas.toBlob(done, 'image/jpeg', QUALITY));
  canvas.width = canvas.height = 0; // gives the memory back at once
  if (!pen || !picture) throw new Trouble('fieldbook.phone_no_picture');
  return { picture, ...size };
}

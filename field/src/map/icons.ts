/* Signs for the map, drawn on a canvas from the same shapes as on the page. */

import type { Map as MapLibre } from 'maplibre-gl';
import { SIGNS } from '../parts/signs';

const FIELD = 20;
const SCALE = 3;

export function drawSign(name: string, ink: string, paper: string): ImageData {
  const side = FIELD * SCALE;
  const canvas = document.createElement('canvas');
  canvas.width = canvas.height = side;
  const pen = canvas.getContext('2d');
  const drawn = SIGNS[name];
  if (!pen || !drawn) throw new Error(`Expected a sign to draw, got ${name}.`);
  pen.scale(SCALE, SCALE);
  pen.lineJoin = 'round';
  const lines = new Path2D(drawn.lines ?? '');
  const areas = new Path2D(drawn.areas ?? '');
  // Paper behind the sign, so that it reads on wood and road alike.
  pen.strokeStyle = paper;
  pen.lineWidth = 4;
  pen.stroke(lines);
  pen.stroke(areas);
  pen.fillStyle = paper;
  pen.fill(lines);
  pen.fillStyle = ink;
  pen.fill(areas);
  pen.strokeStyle = ink;
  pen.lineWidth = 1.9;
  if (drawn.dashes) pen.setLineDash(drawn.dashes.split(' ').map(Number));
  pen.stroke(lines);
  return pen.getImageData(0, 0, side, side);
}

export function addSigns(map: MapLibre, names: readonly string[], ink: string, paper: string): void {
  for (const name of names) {
    const image = drawSign(name, ink, paper);
    if (map.hasImage(name)) map.removeImage(name);
    map.addImage(name, image, { pixelRatio: SCALE });
  }
}

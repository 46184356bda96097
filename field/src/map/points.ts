/* The apiaries as a source for the map, from the columns that the server sends. */

import type { FeatureCollection, Point, Polygon } from 'geojson';
import type { Schemas } from '../api/client';

export type Points = Schemas['PointsShape'];

export interface PointFacts {
  apiary: string;
  colonies: number;
  mark: string;
  from_zoom: number;
}

const TILE_PX = 512;
const CELL_PX = 1.5;
const FARTHEST_ZOOM = 3;
const NEAREST_ZOOM = 13;

/* From which zoom each apiary is drawn: farther out, of those that would fall on the same spot of the screen
   (1.5 pixels) only one is drawn, the first with a case, else the largest. From zoom 13 on all are. */
export function fromZooms(points: Points): Uint8Array {
  const count = points.apiary.length;
  const found = new Uint8Array(count).fill(NEAREST_ZOOM);
  const order = Array.from({ length: count }, (_, number) => number).sort(
    (a, b) =>
      Number(points.mark[b] !== null) - Number(points.mark[a] !== null) ||
      (points.colonies[b] ?? 0) - (points.colonies[a] ?? 0),
  );
  const x = points.longitude.map((degree) => (degree + 180) / 360);
  const y = points.latitude.map((degree) => {
    const sine = Math.sin((degree * Math.PI) / 180);
    return 0.5 - Math.log((1 + sine) / (1 - sine)) / (4 * Math.PI);
  });
  for (let zoom = NEAREST_ZOOM - 1; zoom >= FARTHEST_ZOOM; zoom--) {
    const cells = (TILE_PX * 2 ** zoom) / CELL_PX;
    const taken = new Set<number>();
    for (const number of order) {
      const spot = Math.floor((x[number] ?? 0) * cells) * 2 ** 26 + Math.floor((y[number] ?? 0) * cells);
      if (taken.has(spot)) continue;
      taken.add(spot);
      found[number] = zoom;
    }
  }
  return found;
}

export function pointFeatures(points: Points): FeatureCollection<Point, PointFacts> {
  const zooms = fromZooms(points);
  return {
    type: 'FeatureCollection',
    features: points.apiary.map((apiary, number) => ({
      type: 'Feature',
      id: number,
      geometry: {
        type: 'Point',
        coordinates: [points.longitude[number] ?? 0, points.latitude[number] ?? 0],
      },
      properties: { apiary, colonies: points.colonies[number] ?? 0, mark: points.mark[number] ?? '', from_zoom: zooms[number] ?? 0 },
    })),
  };
}

export type Box = [west: number, south: number, east: number, north: number];

export function boxOf(points: Points, only?: ReadonlySet<string>): Box | null {
  let box: Box | null = null;
  points.apiary.forEach((apiary, number) => {
    if (only && !only.has(apiary)) return;
    const x = points.longitude[number] ?? 0;
    const y = points.latitude[number] ?? 0;
    box = box ? [Math.min(box[0], x), Math.min(box[1], y), Math.max(box[2], x), Math.max(box[3], y)] : [x, y, x, y];
  });
  return box;
}

export function boxOfRings(rings: FeatureCollection<Polygon>): Box | null {
  let box: Box | null = null;
  for (const feature of rings.features) {
    for (const [x = 0, y = 0] of feature.geometry.coordinates[0] ?? []) {
      box = box ? [Math.min(box[0], x), Math.min(box[1], y), Math.max(box[2], x), Math.max(box[3], y)] : [x, y, x, y];
    }
  }
  return box;
}

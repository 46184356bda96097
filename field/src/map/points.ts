/* The apiaries as a source for the map, from the columns that the server sends. */

import type { FeatureCollection, Point, Polygon } from 'geojson';
import type { Schemas } from '../api/client';

export type Points = Schemas['PointsShape'];

export interface PointFacts {
  apiary: string;
  colonies: number;
  mark: string;
}

export function pointFeatures(points: Points): FeatureCollection<Point, PointFacts> {
  return {
    type: 'FeatureCollection',
    features: points.apiary.map((apiary, number) => ({
      type: 'Feature',
      id: number,
      geometry: {
        type: 'Point',
        coordinates: [points.longitude[number] ?? 0, points.latitude[number] ?? 0],
      },
      properties: { apiary, colonies: points.colonies[number] ?? 0, mark: points.mark[number] ?? '' },
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

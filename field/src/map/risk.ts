/* Hidden infection on the map sheet: figures of apiaries on the one scale, and faint squares for what no register knows. */

import type { FeatureCollection, Point, Polygon } from 'geojson';
import type { GeoJSONSource, Map as MapLibre } from 'maplibre-gl';
import type { Points } from './points';
import { token } from './style';

export interface RiskOnMap {
  steps: readonly number[];
  figures: ReadonlyMap<string, { probability: number; said: string }>;
  cells: readonly { longitude: number; latitude: number; side_m: number; probability: number }[];
}

const METRES_PER_DEGREE = 111_195;
const CELL_OPACITY = 0.34;
const LABEL_FONT = ['Barlow', 'DejaVu Sans', 'sans-serif'];

function features(risk: RiskOnMap, points: Points): FeatureCollection<Point> {
  const found: FeatureCollection<Point>['features'] = [];
  points.apiary.forEach((apiary, number) => {
    const figure = risk.figures.get(apiary);
    if (!figure || points.mark[number]) return;
    found.push({
      type: 'Feature',
      properties: { apiary, probability: figure.probability, said: figure.said },
      geometry: { type: 'Point', coordinates: [points.longitude[number] ?? 0, points.latitude[number] ?? 0] },
    });
  });
  return { type: 'FeatureCollection', features: found };
}

function squares(risk: RiskOnMap): FeatureCollection<Polygon> {
  const most = Math.max(1e-9, ...risk.cells.map((cell) => cell.probability));
  return {
    type: 'FeatureCollection',
    features: risk.cells.map((cell) => {
      const high = cell.side_m / 2 / METRES_PER_DEGREE;
      const wide = high / Math.cos((cell.latitude * Math.PI) / 180);
      const [west, east] = [cell.longitude - wide, cell.longitude + wide];
      const [south, north] = [cell.latitude - high, cell.latitude + high];
      const corners = [[west, south], [east, south], [east, north], [west, north], [west, south]];
      return {
        type: 'Feature',
        properties: { share: cell.probability / most },
        geometry: { type: 'Polygon', coordinates: [corners] },
      };
    }),
  };
}

export function setRisk(map: MapLibre, risk: RiskOnMap, points: Points): void {
  (map.getSource('risk') as GeoJSONSource | undefined)?.setData(features(risk, points));
  (map.getSource('risk-cells') as GeoJSONSource | undefined)?.setData(squares(risk));
}

export function drawRisk(map: MapLibre, risk: RiskOnMap, points: Points): void {
  map.addSource('risk', { type: 'geojson', data: features(risk, points), buffer: 16, tolerance: 0 });
  map.addSource('risk-cells', { type: 'geojson', data: squares(risk) });
  const byStep = (values: readonly (string | number)[]) => [
    'step',
    ['get', 'probability'],
    values[0],
    ...risk.steps.flatMap((least, number) => [least, values[number + 1]]),
  ];
  map.addLayer(
    {
      id: 'risk-cells',
      type: 'fill',
      source: 'risk-cells',
      paint: { 'fill-color': token('risk-3'), 'fill-opacity': ['*', CELL_OPACITY, ['get', 'share']] },
    },
    'rings',
  );
  map.addLayer(
    {
      id: 'risk',
      type: 'circle',
      source: 'risk',
      layout: { 'circle-sort-key': ['get', 'probability'] },
      paint: {
        'circle-color': byStep([0, 1, 2, 3, 4, 5].map((step) => token(`risk-${step}`))) as never,
        'circle-radius': byStep([3, 4.5, 6, 7.5, 9, 10.5]) as never,
        'circle-stroke-color': token('ink'),
        'circle-stroke-width': 1,
      },
    },
    'answers',
  );
  map.addLayer({
    id: 'risk-figures',
    type: 'symbol',
    source: 'risk',
    filter: ['!=', ['get', 'said'], ''],
    layout: {
      'text-field': ['get', 'said'],
      'text-font': LABEL_FONT,
      'text-size': 12.5,
      'symbol-sort-key': ['-', 0, ['get', 'probability']],
      'text-variable-anchor': ['left', 'right', 'top', 'bottom'],
      'text-radial-offset': 0.95,
    },
    paint: { 'text-color': token('ink'), 'text-halo-color': token('map-land'), 'text-halo-width': 1.8 },
  });
}

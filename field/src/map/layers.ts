/* The layers of the map sheet above the base map: rings, places and their squares, cases, the chosen one. */

import type { Map as MapLibre } from 'maplibre-gl';
import { token } from './style';

export const SQUARES_FROM_ZOOM = 12;

export function drawRings(map: MapLibre): void {
  const accent = token('accent');
  map.addLayer({
    id: 'rings',
    type: 'line',
    source: 'rings',
    paint: { 'line-color': accent, 'line-width': 1.6, 'line-dasharray': [5, 2] },
  });
  map.addLayer({
    id: 'ring-figures',
    type: 'symbol',
    source: 'rings',
    layout: {
      'symbol-placement': 'line',
      'symbol-spacing': 380,
      'text-field': ['get', 'figure'],
      'text-font': ['Barlow', 'DejaVu Sans', 'sans-serif'],
      'text-size': 12,
    },
    paint: { 'text-color': accent, 'text-halo-color': token('map-land'), 'text-halo-width': 1.6 },
  });
}

/* `isFaint` when rings are drawn: what no ring answers for then steps back. */
export function drawApiaries(map: MapLibre, isFaint: boolean): void {
  const ink = token('ink');
  const paper = token('map-land');
  const isPlain = [
    'all',
    ['<=', ['get', 'from_zoom'], ['zoom']],
    ['==', ['get', 'mark'], ''],
    ['==', ['coalesce', ['get', 'answer'], ''], ''],
  ];
  map.addLayer({
    id: 'squares',
    type: 'line',
    source: 'squares',
    minzoom: SQUARES_FROM_ZOOM,
    paint: { 'line-color': ink, 'line-width': 0.8, 'line-opacity': 0.7 },
  });
  map.addLayer({
    id: 'apiaries',
    type: 'circle',
    source: 'apiaries',
    filter: isPlain as never,
    paint: {
      'circle-color': ink,
      'circle-opacity': isFaint ? 0.45 : 0.8,
      'circle-stroke-color': paper,
      'circle-stroke-width': ['interpolate', ['linear'], ['zoom'], 9, 0, 12, 1],
      'circle-radius': [
        'interpolate',
        ['linear'],
        ['zoom'],
        6,
        1,
        10,
        ['+', 1.4, ['*', 0.25, ['sqrt', ['get', 'colonies']]]],
        14,
        ['+', 3, ['*', 0.8, ['sqrt', ['get', 'colonies']]]],
      ],
    },
  });
  map.addLayer({
    id: 'answers',
    type: 'symbol',
    source: 'apiaries',
    filter: ['!=', ['coalesce', ['get', 'answer'], ''], ''],
    layout: { 'icon-image': ['get', 'answer'], 'icon-allow-overlap': true, 'icon-size': 0.85 },
  });
  map.addLayer({
    id: 'cases',
    type: 'symbol',
    source: 'apiaries',
    filter: ['!=', ['get', 'mark'], ''],
    layout: { 'icon-image': ['get', 'mark'], 'icon-allow-overlap': true, 'icon-size': 1.1 },
  });
  map.addLayer({
    id: 'chosen',
    type: 'circle',
    source: 'chosen',
    paint: {
      'circle-radius': 15,
      'circle-opacity': 0,
      'circle-stroke-color': token('accent'),
      'circle-stroke-width': 3,
    },
  });
}

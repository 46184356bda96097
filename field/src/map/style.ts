/* The map sheet: our own base map from local files, under a fine grid, in the ink and paper of the book. */

import type { LayerSpecification, SourceSpecification, StyleSpecification } from 'maplibre-gl';
import type { Schemas } from '../api/client';

export type Basemap = Schemas['BasemapShape'];

/* Colours of the sheet, as the page's own tokens say them. */
export function token(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
}

type Draft = Record<string, unknown> & { id: string };

const LABEL_FONT = ['Barlow', 'DejaVu Sans', 'sans-serif'];

/* How each known layer of the base map is drawn, from the ground up. Widths in pixels. */
function drawings(): Record<string, Draft[]> {
  const road = token('map-road');
  const byClass = (main: number, minor: number, track: number) => [
    'match',
    ['coalesce', ['get', 'class'], ['get', 'highway'], ''],
    ['main', 'primary', 'trunk', 'motorway', 'secondary'],
    main,
    ['track', 'path', 'footway', 'bridleway', 'ferry', 'residential'],
    track,
    minor,
  ];
  const width = (scale: number) => byClass(2.4 * scale, 1.5 * scale, 0.8 * scale);
  return {
    land: [
      { id: 'land', type: 'fill', paint: { 'fill-color': token('map-land') } },
      { id: 'shore', type: 'line', paint: { 'line-color': token('line'), 'line-width': 1 } },
    ],
    heath: [{ id: 'heath', type: 'fill', paint: { 'fill-color': token('map-heath') } }],
    woods: [{ id: 'woods', type: 'fill', paint: { 'fill-color': token('map-wood') } }],
    lakes: [
      {
        id: 'lakes',
        type: 'fill',
        paint: { 'fill-color': token('map-lake'), 'fill-outline-color': token('line') },
      },
    ],
    contours: [
      {
        id: 'contours',
        type: 'line',
        minzoom: 10,
        paint: { 'line-color': token('map-road'), 'line-width': 0.5, 'line-opacity': 0.55 },
      },
    ],
    built: [{ id: 'built', type: 'fill', paint: { 'fill-color': token('map-built') } }],
    roads: [
      {
        id: 'roads',
        type: 'line',
        layout: { 'line-cap': 'round', 'line-join': 'round' },
        paint: {
          'line-color': road,
          'line-width': ['interpolate', ['linear'], ['zoom'], 8, width(0.35), 12, width(1), 16, width(2.4)],
        },
      },
    ],
    places: [
      {
        id: 'places',
        type: 'symbol',
        layout: {
          'text-field': ['coalesce', ['get', 'name'], ''],
          'text-font': LABEL_FONT,
          'symbol-sort-key': ['coalesce', ['get', 'rank'], 9],
          'text-size': [
            'interpolate',
            ['linear'],
            ['zoom'],
            8,
            ['match', ['coalesce', ['get', 'rank'], 3], 0, 15, 1, 13, 11],
            14,
            ['match', ['coalesce', ['get', 'rank'], 3], 0, 20, 1, 18, 15],
          ],
          'text-padding': 6,
          'text-variable-anchor': ['top', 'bottom', 'left', 'right'],
          'text-radial-offset': 0.5,
        },
        paint: {
          'text-color': token('map-label'),
          'text-halo-color': token('map-land'),
          'text-halo-width': 1.6,
        },
      },
    ],
  };
}

/* Layers of a file that we do not know the meaning of: areas, lines and names, plainly. */
function plainDrawings(id: string): Draft[] {
  return [
    {
      id: `${id}-areas`,
      type: 'fill',
      filter: ['==', ['geometry-type'], 'Polygon'],
      paint: { 'fill-color': token('map-heath'), 'fill-opacity': 0.5 },
    },
    {
      id: `${id}-lines`,
      type: 'line',
      filter: ['!=', ['geometry-type'], 'Point'],
      paint: { 'line-color': token('map-road'), 'line-width': 0.8 },
    },
    {
      id: `${id}-names`,
      type: 'symbol',
      filter: ['all', ['==', ['geometry-type'], 'Point'], ['has', 'name']],
      layout: { 'text-field': ['get', 'name'], 'text-font': LABEL_FONT, 'text-size': 12 },
      paint: { 'text-color': token('map-label'), 'text-halo-color': token('map-land'), 'text-halo-width': 1.4 },
    },
  ];
}

export interface AddedTiles {
  name: string;
  address: string;
  isRaster: boolean;
  layers: string[];
}

function onSource(drafts: Draft[], source: string, sourceLayer?: string): LayerSpecification[] {
  return drafts.map(
    (draft) =>
      ({ ...draft, source, ...(sourceLayer ? { 'source-layer': sourceLayer } : {}) }) as unknown as LayerSpecification,
  );
}

/* The whole sheet under the apiaries. */
export function sheetStyle(basemap: Basemap, added: AddedTiles[]): StyleSpecification {
  const sources: Record<string, SourceSpecification> = {
    grid: { type: 'geojson', data: { type: 'FeatureCollection', features: [] } },
  };
  const layers: LayerSpecification[] = [
    { id: 'sea', type: 'background', paint: { 'background-color': token('map-sea') } },
  ];
  /* Above our own areas, which would hide them, and under roads, names and the grid. */
  const ofTiles: LayerSpecification[] = [];
  for (const tiles of added) {
    const source = `tiles:${tiles.name}`;
    sources[source] = {
      type: tiles.isRaster ? 'raster' : 'vector',
      url: `pmtiles://${location.origin}${tiles.address}`,
      ...(tiles.isRaster ? { tileSize: 256 } : {}),
    } as SourceSpecification;
    if (tiles.isRaster) ofTiles.push({ id: source, type: 'raster', source });
    else for (const name of tiles.layers) ofTiles.push(...onSource(plainDrawings(`${source}:${name}`), source, name));
  }
  const known = drawings();
  const files = new Map(basemap.layers.map((layer) => [layer.name, layer.address]));
  for (const [name, drafts] of Object.entries(known)) {
    if (name === 'roads') layers.push(...ofTiles, ...gridLayers());
    const file = files.get(name);
    if (!file) continue;
    sources[name] = { type: 'geojson', data: `${location.origin}${file}` };
    layers.push(...onSource(drafts, name));
  }
  for (const [name, file] of files) {
    if (name in known) continue;
    sources[name] = { type: 'geojson', data: `${location.origin}${file}` };
    layers.push(...onSource(plainDrawings(name), name));
  }
  return { version: 8, sources, layers };
}

function gridLayers(): LayerSpecification[] {
  return [
    {
      id: 'grid',
      type: 'line',
      source: 'grid',
      paint: {
        'line-color': token('map-grid'),
        'line-opacity': 0.75,
        'line-width': ['case', ['get', 'heavy'], 1.1, 0.5],
      },
    },
    {
      id: 'grid-figures',
      type: 'symbol',
      source: 'grid',
      layout: {
        'symbol-placement': 'line',
        'symbol-spacing': 420,
        'text-field': ['get', 'figure'],
        'text-font': LABEL_FONT,
        'text-size': 10.5,
      },
      paint: { 'text-color': token('ink-2'), 'text-halo-color': token('map-land'), 'text-halo-width': 1.2 },
    },
  ];
}

/* The map sheet itself: made once, then given apiaries, rings and a selection. */

import {
  type GeoJSONSource,
  Map as MapLibre,
  type MapGeoJSONFeature,
  NavigationControl,
  ScaleControl,
  setWorkerUrl,
  type StyleSpecification,
} from 'maplibre-gl';
import 'maplibre-gl/dist/maplibre-gl.css';
import workerUrl from 'maplibre-gl/dist/maplibre-gl-worker.mjs?worker&url';
import type { FeatureCollection, Polygon } from 'geojson';
import { get } from '../api/client';
import { t } from '../words/words';
import { addSigns } from './icons';
import { drawApiaries, drawRings, SQUARES_FROM_ZOOM } from './layers';
import { type Box, type PointFacts, pointFeatures, type Points } from './points';
import { drawRisk, type RiskOnMap, setRisk } from './risk';
import { type Basemap, sheetStyle, token } from './style';
import { readTiles } from './tiles';

setWorkerUrl(workerUrl);

const NOTHING: FeatureCollection = { type: 'FeatureCollection', features: [] };
const CASE_SIGNS = [
  'suspected',
  'awaiting_result',
  'confirmed',
  'under_measures',
  'in_reinspection',
  'released',
  'not_confirmed',
] as const;
const RING_SIGNS = ['in', 'out', 'cannot_tell'] as const;

export interface Rings {
  outlines: FeatureCollection<Polygon>;
  answers: ReadonlyMap<string, string>;
}

export interface SheetOptions {
  holder: HTMLElement;
  basemap: Basemap;
  points: Points;
  box: Box | null;
  rings?: Rings;
  risk?: RiskOnMap;
  isPrinted?: boolean;
  onselect: (apiary: string) => void;
}

/* Words of the map's own buttons, from the catalogue. */
function controlWords(): Record<string, string> {
  return {
    'Map.Title': t('web.map_title'),
    'NavigationControl.ZoomIn': t('web.map_closer'),
    'NavigationControl.ZoomOut': t('web.map_farther'),
    'NavigationControl.ResetBearing': t('web.map_north'),
    'CooperativeGesturesHandler.WindowsHelpText': t('web.map_wheel'),
    'CooperativeGesturesHandler.MacHelpText': t('web.map_wheel'),
    'CooperativeGesturesHandler.MobileHelpText': t('web.map_fingers'),
  };
}

export class MapSheet {
  readonly map: MapLibre;
  #options: SheetOptions;
  #gridTurn = 0;

  private constructor(map: MapLibre, options: SheetOptions) {
    this.map = map;
    this.#options = options;
  }

  static async make(options: SheetOptions): Promise<MapSheet> {
    const style = sheetStyle(options.basemap, await readTiles(options.basemap));
    const isTouch = matchMedia('(pointer: coarse)').matches;
    const map = new MapLibre({
      container: options.holder,
      style,
      locale: controlWords(),
      attributionControl: false,
      dragRotate: false,
      pitchWithRotate: false,
      touchPitch: false,
      maxZoom: 18,
      fadeDuration: 0,
      cooperativeGestures: isTouch,
      canvasContextAttributes: { preserveDrawingBuffer: options.isPrinted ?? false },
      ...(options.box ? { bounds: options.box, fitBoundsOptions: { padding: 36, maxZoom: 14 } } : {}),
    });
    map.touchZoomRotate.disableRotation();
    map.addControl(new NavigationControl({ showCompass: false }), 'top-right');
    map.addControl(new ScaleControl({ maxWidth: 140 }), 'bottom-left');
    const sheet = new MapSheet(map, options);
    map.on('load', () => sheet.#draw());
    map.on('moveend', () => void sheet.#drawForView());
    sheet.#listen();
    return sheet;
  }

  /* A new theme or base map: the sheet is drawn anew under the same view. */
  async restyle(basemap: Basemap): Promise<void> {
    const style: StyleSpecification = sheetStyle(basemap, await readTiles(basemap));
    this.map.setStyle(style, { diff: false });
    this.map.once('styledata', () => this.#draw());
  }

  setPoints(points: Points): void {
    this.#options.points = points;
    (this.map.getSource('apiaries') as GeoJSONSource | undefined)?.setData(this.#features());
  }

  setRings(rings: Rings): void {
    this.#options.rings = rings;
    (this.map.getSource('rings') as GeoJSONSource | undefined)?.setData(rings.outlines);
    (this.map.getSource('apiaries') as GeoJSONSource | undefined)?.setData(this.#features());
  }

  setRisk(risk: RiskOnMap): void {
    this.#options.risk = risk;
    setRisk(this.map, risk, this.#options.points);
  }

  select(apiary: string | null, isMoving: boolean): void {
    const points = this.#options.points;
    const number = apiary === null ? -1 : points.apiary.indexOf(apiary);
    const centre: [number, number] = [points.longitude[number] ?? 0, points.latitude[number] ?? 0];
    const source = this.map.getSource('chosen') as GeoJSONSource | undefined;
    source?.setData(
      number < 0
        ? NOTHING
        : { type: 'Feature', properties: {}, geometry: { type: 'Point', coordinates: centre } },
    );
    if (number < 0 || !isMoving) return;
    const isCalm = matchMedia('(prefers-reduced-motion: reduce)').matches;
    const view = { center: centre, zoom: Math.max(this.map.getZoom(), 12.5) };
    if (isCalm) this.map.jumpTo(view);
    else this.map.easeTo({ ...view, duration: 300 });
  }

  remove(): void {
    this.map.remove();
  }

  #features(): FeatureCollection {
    const features = pointFeatures(this.#options.points);
    const rings = this.#options.rings;
    if (!rings) return features;
    for (const feature of features.features) {
      const facts = feature.properties as PointFacts & { answer?: string };
      facts.answer = facts.mark ? '' : (rings.answers.get(facts.apiary) ?? '');
    }
    return features;
  }

  #draw(): void {
    const map = this.map;
    const ink = token('ink');
    const paper = token('map-land');
    addSigns(map, RING_SIGNS, ink, paper);
    addSigns(map, CASE_SIGNS, token('accent'), paper);
    map.addSource('rings', { type: 'geojson', data: this.#options.rings?.outlines ?? NOTHING });
    map.addSource('squares', { type: 'geojson', data: NOTHING });
    map.addSource('chosen', { type: 'geojson', data: NOTHING });
    map.addSource('apiaries', {
      type: 'geojson',
      data: this.#features(),
      buffer: 8,
      tolerance: 0,
      maxzoom: 13,
    });
    drawRings(map);
    drawApiaries(map, this.#options.rings !== undefined);
    if (this.#options.risk) drawRisk(map, this.#options.risk, this.#options.points);
    void this.#drawForView();
  }

  #listen(): void {
    const layers = ['cases', 'answers', 'apiaries'];
    this.map.on('click', (event) => {
      const reach = 12;
      const { x, y } = event.point;
      const found: MapGeoJSONFeature[] = this.map.queryRenderedFeatures(
        [
          [x - reach, y - reach],
          [x + reach, y + reach],
        ],
        { layers: layers.filter((layer) => this.map.getLayer(layer)) },
      );
      const nearest = found
        .map((feature) => {
          const [longitude = 0, latitude = 0] = (feature.geometry as { coordinates: number[] }).coordinates;
          const at = this.map.project([longitude, latitude]);
          return { apiary: String(feature.properties['apiary']), away: Math.hypot(at.x - x, at.y - y) };
        })
        .sort((a, b) => a.away - b.away)[0];
      if (nearest) this.#options.onselect(nearest.apiary);
    });
    for (const layer of layers) {
      this.map.on('mouseenter', layer, () => (this.map.getCanvas().style.cursor = 'pointer'));
      this.map.on('mouseleave', layer, () => (this.map.getCanvas().style.cursor = ''));
    }
  }

  /* The grid and the squares of the places are asked for the view that is shown. */
  async #drawForView(): Promise<void> {
    const turn = ++this.#gridTurn;
    const bounds = this.map.getBounds();
    const view = {
      west: bounds.getWest(),
      south: bounds.getSouth(),
      east: bounds.getEast(),
      north: bounds.getNorth(),
    };
    try {
      const grid = await get<FeatureCollection>('/api/map/grid', view);
      if (turn !== this.#gridTurn) return;
      (this.map.getSource('grid') as GeoJSONSource | undefined)?.setData(grid);
      if (this.map.getZoom() < SQUARES_FROM_ZOOM) return;
      const squares = await get<FeatureCollection>('/api/map/squares', view);
      if (turn !== this.#gridTurn) return;
      (this.map.getSource('squares') as GeoJSONSource | undefined)?.setData(squares);
    } catch (error) {
      console.warn('The grid could not be drawn.', error); // the map stands without it
    }
  }
}

/* Base maps that the user added: what is in them, read from the file itself by HTTP ranges. */

import { addProtocol } from 'maplibre-gl';
import { PMTiles, Protocol, TileType } from 'pmtiles';
import type { AddedTiles, Basemap } from './style';

const protocol = new Protocol();
let isAdded = false;

export async function readTiles(basemap: Basemap): Promise<AddedTiles[]> {
  if (!isAdded) {
    addProtocol('pmtiles', protocol.tile);
    isAdded = true;
  }
  const found: AddedTiles[] = [];
  for (const file of basemap.tiles) {
    const tiles = new PMTiles(`${location.origin}${file.address}`);
    protocol.add(tiles);
    try {
      const header = await tiles.getHeader();
      const metadata = (await tiles.getMetadata()) as { vector_layers?: { id: string }[] } | null;
      found.push({
        name: file.name,
        address: file.address,
        isRaster: header.tileType !== TileType.Mvt,
        layers: (metadata?.vector_layers ?? []).map((layer) => layer.id),
      });
    } catch (error) {
      console.error(`The base map ${file.name} could not be read.`, error);
    }
  }
  return found;
}

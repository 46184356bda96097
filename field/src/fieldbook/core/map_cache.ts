/* Where the map that was taken along is kept; page and service worker both know it. */
export const MAP_CACHE = 'broodsweep.fieldbook.map';

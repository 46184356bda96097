/* Distances and bearings on the phone: on the sphere, where the desk measures on the ellipsoid. */

export interface At {
  longitude: number;
  latitude: number;
}

/** Mean radius of the Earth (Moritz, Geodetic Reference System 1980, R1; broodsweep.geo uses the ellipsoid). [m] */
const EARTH_MEAN_M = 6_371_008.7714;
/** Bees of one apiary stand apart, and a register's point is rarely paced out. Project choice. [m] */
export const NEAR_ENOUGH_M = 100;
/** A fix that is looser than this confirms no place by itself: it is said, and asked. Project choice. [m] */
export const ROUGH_M = 150;
/** How far the sphere may be off the ellipsoid, as a share of the distance (tests/fieldbook_screens measures it). */
const SPHERE_SHARE = 0.006;
const HALF_DIAGONAL = Math.SQRT1_2;
const POINTS = ['n', 'ne', 'e', 'se', 's', 'sw', 'w', 'nw'] as const;

const radians = (degree: number): number => (degree * Math.PI) / 180;

export function distanceM(a: At, b: At): number {
  const dLatitude = radians(b.latitude - a.latitude);
  const dLongitude = radians(b.longitude - a.longitude);
  const half =
    Math.sin(dLatitude / 2) ** 2 +
    Math.cos(radians(a.latitude)) * Math.cos(radians(b.latitude)) * Math.sin(dLongitude / 2) ** 2;
  return 2 * EARTH_MEAN_M * Math.asin(Math.min(1, Math.sqrt(half)));
}

/* Degrees from north, clockwise. */
export function bearingDegree(from: At, to: At): number {
  const dLongitude = radians(to.longitude - from.longitude);
  const [one, two] = [radians(from.latitude), radians(to.latitude)];
  const y = Math.sin(dLongitude) * Math.cos(two);
  const x = Math.cos(one) * Math.sin(two) - Math.sin(one) * Math.cos(two) * Math.cos(dLongitude);
  return ((Math.atan2(y, x) * 180) / Math.PI + 360) % 360;
}

export function pointOf(degree: number): (typeof POINTS)[number] {
  return POINTS[Math.round(degree / 45) % POINTS.length]!;
}

/* How far a fix surely is from the square in which the register has the place; 0 when they may meet. */
export function gapM(fix: At & { accuracy_m: number }, square: At & { precision_m: number }): number {
  const apart = distanceM(fix, square) - fix.accuracy_m - square.precision_m * HALF_DIAGONAL;
  return Math.max(0, apart);
}

export type RingAnswer = 'in' | 'out' | 'cannot_tell';

/* Whether a square lies within a radius of another: in, out, or the squares straddle the line; never surer than the desk. */
export function inRing(
  centre: At & { precision_m: number },
  place: At & { precision_m: number },
  radiusM: number,
): RingAnswer {
  const between = distanceM(centre, place);
  const loose = (centre.precision_m + place.precision_m) * HALF_DIAGONAL + between * SPHERE_SHARE;
  if (between + loose <= radiusM) return 'in';
  return between - loose > radiusM ? 'out' : 'cannot_tell';
}

/* A typed place: "54.8123, 0.4211" (latitude first, as maps show it) or a geo: address (RFC 5870). */
export function readPlace(text: string): At | null {
  const found = /^\s*(?:geo:)?\s*(-?\d{1,2}(?:[.]\d+)?)\s*[,; ]\s*(-?\d{1,3}(?:[.]\d+)?)/i.exec(text);
  if (!found) return null;
  const [latitude, longitude] = [Number(found[1]), Number(found[2])];
  return Math.abs(latitude) <= 90 && Math.abs(longitude) <= 180 ? { longitude, latitude } : null;
}

export function geoAddress(place: At): string {
  const at = `${place.latitude.toFixed(6)},${place.longitude.toFixed(6)}`;
  return `geo:${at}?q=${at}`;
}

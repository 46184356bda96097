/* Where the phone is: watched while a screen asks for it. */

import type { At } from './place';

export interface Fix extends At {
  accuracy_m: number;
  at: number;
}

export type GpsState = 'off' | 'waiting' | 'fixed' | 'refused' | 'missing';

export class Gps {
  state = $state<GpsState>('off');
  fix = $state.raw<Fix | null>(null);
  #watch: number | null = null;

  /* Start without being asked only where the user has allowed it before: the question of the browser waits for a touch. */
  async startIfAllowed(): Promise<void> {
    try {
      const given = await navigator.permissions.query({ name: 'geolocation' });
      if (given.state === 'granted') this.start();
    } catch {
      // some browsers cannot say: then a touch starts it
    }
  }

  start(): void {
    if (this.#watch !== null) return;
    if (!navigator.geolocation) {
      this.state = 'missing';
      return;
    }
    this.state = 'waiting';
    this.#watch = navigator.geolocation.watchPosition(
      ({ coords, timestamp }) => {
        this.fix = {
          longitude: coords.longitude,
          latitude: coords.latitude,
          accuracy_m: Math.round(coords.accuracy),
          at: timestamp,
        };
        this.state = 'fixed';
      },
      (error) => {
        if (this.fix && error.code !== error.PERMISSION_DENIED) return;
        this.state = error.code === error.PERMISSION_DENIED ? 'refused' : 'missing';
        if (this.state === 'refused') this.stop();
      },
      { enableHighAccuracy: true, maximumAge: 5000, timeout: 30_000 },
    );
  }

  stop(): void {
    if (this.#watch !== null) navigator.geolocation.clearWatch(this.#watch);
    this.#watch = null;
  }
}

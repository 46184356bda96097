/* The service worker: asked for at the start; a newer book waits until the user takes it. */

const EVERY_MS = 60 * 60_000;

class Renewal {
  #waiting = $state.raw<ServiceWorker | null>(null);
  #isElsewhere = $state(false);
  #isTaken = false;

  /* A newer book is ready. */
  get isReady(): boolean {
    return this.#waiting !== null;
  }
  /* Another tab took the newer book: this one runs on the old one's files. */
  get isElsewhere(): boolean {
    return this.#isElsewhere;
  }

  async start(): Promise<void> {
    const workers = navigator.serviceWorker;
    if (!workers) return;
    const hadOne = workers.controller !== null;
    workers.addEventListener('controllerchange', () => {
      if (this.#isTaken) location.reload();
      else if (hadOne) this.#isElsewhere = true;
    });
    const registration = await workers.register('/field/sw.js', { scope: '/field/', updateViaCache: 'none' });
    this.#look(registration);
    registration.addEventListener('updatefound', () => {
      registration.installing?.addEventListener('statechange', () => this.#look(registration));
    });
    const ask = (): void => void registration.update().catch(() => undefined); // without network there is nothing newer
    setInterval(ask, EVERY_MS);
    document.addEventListener('visibilitychange', () => document.visibilityState === 'visible' && ask());
  }

  #look(registration: ServiceWorkerRegistration): void {
    this.#waiting = navigator.serviceWorker.controller ? registration.waiting : null;
  }

  take(): void {
    this.#isTaken = true;
    this.#waiting?.postMessage('take-over');
  }

  /* Open the page anew, with the newer book where one is waiting. */
  openAgain = (): void => {
    if (this.#waiting) this.take();
    else location.reload();
  };

  /* Where the browser can: be woken when the network is back. */
  async wakeOnNetwork(): Promise<void> {
    const registration = (await navigator.serviceWorker?.getRegistration('/field/')) as
      | (ServiceWorkerRegistration & { sync?: { register(tag: string): Promise<void> } })
      | undefined;
    await registration?.sync?.register('hand-in').catch(() => undefined); // may be switched off; the page asks itself
  }
}

export const renewal = new Renewal();

/* What the tabs of this browser tell each other. */

export type Told = 'written' | 'sent' | 'satchel' | 'cleared' | 'photo';

const NAME = 'broodsweep.fieldbook';

export class Tabs {
  readonly #channel: BroadcastChannel | null;

  constructor(onTold: (told: Told) => void) {
    this.#channel = 'BroadcastChannel' in globalThis ? new BroadcastChannel(NAME) : null;
    if (this.#channel) this.#channel.onmessage = (event: MessageEvent<Told>) => onTold(event.data);
  }

  tell(told: Told): void {
    this.#channel?.postMessage(told);
  }

  close(): void {
    this.#channel?.close();
  }
}

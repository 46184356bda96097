/* The plan of rounds as the page holds it: asked for, changed, watched while the desk is planning. */

import { get, send, type Schemas, Trouble } from '../../api/client';
import { announce } from '../../state/announce.svelte';
import { t } from '../../words/words';
import type { HoursRow } from './hours';
import type { Rounds } from './lines';

export type ChangeKind = Schemas['ChangeKind'];

export interface Wish {
  kind: ChangeKind;
  apiary?: string;
  name?: string;
  inspector?: string;
  days?: string[];
  weekdays?: number[];
  windows?: HoursRow[];
  weather?: Schemas['WeatherHour'][];
  rules?: Schemas['RoundRules'];
}

type Fact = Schemas['RoundFactShape'];

const LOOK_MS = 600;

export class RoundsWork {
  value = $state.raw<Rounds | null>(null);
  trouble = $state.raw<Trouble | null>(null);
  isSending = $state(false);
  #timer: ReturnType<typeof setTimeout> | undefined;

  get isPlanning(): boolean {
    return this.value?.progress.state === 'planning';
  }

  get isBusy(): boolean {
    return this.isSending || this.isPlanning;
  }

  async load(): Promise<void> {
    try {
      this.#take(await get<Rounds>('/api/rounds'));
      this.trouble = null;
    } catch (error) {
      this.trouble = Trouble.from(error);
    }
  }

  leave(): void {
    clearTimeout(this.#timer);
  }

  plan(asked: Schemas['PlanAsked']): Promise<void> {
    return this.#send('/api/rounds', asked);
  }

  stop(): Promise<void> {
    return this.#send('/api/rounds/stop');
  }

  async change(wish: Wish): Promise<void> {
    if (!this.value) return;
    const number = this.value.plan?.number ?? 0;
    await this.#send('/api/rounds/changes', { number, ...wish });
    if (this.trouble || this.isPlanning) return;
    announce(this.value.plan ? this.value.plan.told : t('rounds_page.noted'));
  }

  takeBack(fact: Fact): Promise<void> {
    const { kind, apiary, name, inspector, days } = fact;
    return this.change({
      kind,
      ...(apiary ? { apiary } : {}),
      ...(name ? { name } : {}),
      ...(inspector ? { inspector } : {}),
      days: days ?? [],
    });
  }

  async back(): Promise<void> {
    const number = this.value?.plan?.number;
    if (number === undefined) return;
    await this.#send('/api/rounds/back', { number });
    if (!this.trouble) announce(t('rounds_page.went_back'));
  }

  async #send(path: string, body?: unknown): Promise<void> {
    if (this.isSending) return;
    this.isSending = true;
    this.trouble = null;
    const before = JSON.stringify(this.value?.progress);
    try {
      const { progress } = this.#take(await send<Rounds>('POST', path, body));
      // A plan may have failed before the answer was written: nobody looks again then.
      const isNews = path === '/api/rounds' || JSON.stringify(progress) !== before;
      if (progress.state === 'failed' && progress.trouble && isNews) {
        this.trouble = new Trouble('rounds_page.failed', progress.trouble, 0);
      }
    } catch (error) {
      this.trouble = Trouble.from(error);
    }
    this.isSending = false;
  }

  #take(value: Rounds): Rounds {
    this.value = value;
    clearTimeout(this.#timer);
    if (this.isPlanning) this.#timer = setTimeout(() => void this.#look(), LOOK_MS);
    return value;
  }

  async #look(): Promise<void> {
    try {
      const progress = await get<Schemas['RoundProgressShape']>('/api/rounds/progress');
      if (!this.value) return;
      if (progress.state === 'planning') {
        this.#take({ ...this.value, progress });
        return;
      }
      await this.load();
      if (progress.state === 'failed' && progress.trouble) {
        this.trouble = new Trouble('rounds_page.failed', progress.trouble, 0);
      } else if (progress.best) {
        const { visits, left_out } = progress.best;
        announce(t('rounds_page.planned', { visits, left_out }));
      }
    } catch (error) {
      this.trouble = Trouble.from(error);
    }
  }
}

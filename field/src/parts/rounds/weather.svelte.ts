/* The weather as it is typed in: a figure for the day, or hour by hour; what it allows is asked of the desk. */

import { send, type Schemas, Trouble } from '../../api/client';
import type { NoteDay } from './days';
import type { Rounds } from './lines';

export type Hour = Schemas['WeatherHour'];
export type Allowed = Pick<Schemas['WeatherDayShape'], 'opens' | 'closes' | 'why'>;
type Figure = number | null | undefined;

export interface DayWeather {
  temperature: Figure;
  wind: Figure;
  rain: Figure;
  /* Null: the figures above count for the whole day. */
  hours: Hour[] | null;
}

const FIRST_HOUR = 8;
const LAST_HOUR = 19;
const HOURS = 24;

export function isFigure(value: Figure): value is number {
  return typeof value === 'number' && Number.isFinite(value);
}

function at(on: string, hour: number): string {
  return `${on}T${String(hour).padStart(2, '0')}:00:00`;
}

function isSame(hours: readonly Hour[]): boolean {
  const [first] = hours;
  return hours.every(
    (one) => one.temperature === first?.temperature && one.wind === first.wind && one.rain === first.rain,
  );
}

export function entryOf(hours: Hour[]): DayWeather {
  const [first] = hours;
  if (first && isSame(hours)) {
    return { temperature: first.temperature, wind: first.wind, rain: first.rain, hours: null };
  }
  return { temperature: null, wind: null, rain: null, hours: hours.length ? hours : null };
}

/* The hours that a day's entry stands for; none while a figure is missing. */
export function hoursOf(on: string, entry: DayWeather): Hour[] {
  if (entry.hours) {
    return entry.hours.filter((one) => isFigure(one.temperature) && isFigure(one.wind) && isFigure(one.rain));
  }
  const { temperature, wind, rain } = entry;
  if (!isFigure(temperature) || !isFigure(wind) || !isFigure(rain)) return [];
  return Array.from({ length: HOURS }, (_, hour) => ({ time: at(on, hour), temperature, wind, rain }));
}

/* Hours to type into, from the figure of the day where there is one. */
export function hourly(on: string, entry: DayWeather): Hour[] {
  const { temperature, wind, rain } = entry;
  return Array.from({ length: LAST_HOUR - FIRST_HOUR + 1 }, (_, number) => ({
    time: at(on, FIRST_HOUR + number),
    temperature: isFigure(temperature) ? temperature : null,
    wind: isFigure(wind) ? wind : null,
    rain: isFigure(rain) ? rain : null,
  })) as Hour[];
}

export class WeatherDraft {
  entries = $state<Record<string, DayWeather>>({});
  allowed = $state.raw<Record<string, Allowed>>({});
  trouble = $state.raw<Trouble | null>(null);
  #asked = 0;

  constructor(
    rounds: Rounds,
    readonly days: readonly NoteDay[],
  ) {
    const noted = new Map(rounds.noted.weather.map((day) => [day.on, day]));
    this.entries = Object.fromEntries(days.map(({ on }) => [on, entryOf(noted.get(on)?.hours ?? [])]));
    const planned = (rounds.plan?.days ?? []).map((day) => [day.on, day] as const);
    this.allowed = Object.fromEntries([...planned, ...noted]);
  }

  get hours(): Hour[] {
    return this.days.flatMap(({ on }) => {
      const entry = this.entries[on];
      return entry ? hoursOf(on, entry) : [];
    });
  }

  /* A figure still missing beside others, by day. */
  isHalf(on: string): boolean {
    const entry = this.entries[on];
    if (!entry || entry.hours) return false;
    const given = [entry.temperature, entry.wind, entry.rain].filter(isFigure).length;
    return given > 0 && given < 3;
  }

  /* Ask the desk what the weather allows; an answer to an older question is dropped. */
  async look(): Promise<void> {
    const { hours } = this;
    if (!hours.length) return;
    await this.#ask({ hours });
  }

  async read(file: File): Promise<boolean> {
    const days = await this.#ask({ text: await file.text(), is_json: /\.json$/i.test(file.name) });
    for (const day of days) if (day.hours.length) this.entries[day.on] = entryOf(day.hours);
    return days.length > 0;
  }

  async #ask(what: Partial<Schemas['WeatherAsked']>): Promise<Schemas['WeatherDayShape'][]> {
    const turn = ++this.#asked;
    const first = this.days[0]?.on;
    if (!first) return [];
    try {
      const body = { first_on: first, days: this.days.length, ...what };
      const { days } = await send<Schemas['WeatherShape']>('POST', '/api/rounds/weather', body);
      if (turn !== this.#asked) return [];
      this.trouble = null;
      this.allowed = { ...this.allowed, ...Object.fromEntries(days.map((day) => [day.on, day])) };
      return days;
    } catch (error) {
      this.trouble = Trouble.from(error);
      return [];
    }
  }
}

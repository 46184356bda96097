/* Random scripts against the phone's store and outbox: a desk that answers badly, a phone that is killed. */
import { type Base, openBase } from '@core/base';
import { DeskLine } from '@core/desk';
import { LineStore } from '@core/lines';
import { Outbox } from '@core/outbox';
import { PhotoStore } from '@core/photos';
import { Sealer } from '@core/sealing';
import { sha256Hex } from '@core/bytes';

export function chances(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0; // mulberry32
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
}

type Mood = 'well' | 'away' | 'cut' | 'trouble' | 'lost_answer' | 'some' | 'odd' | 'unread';

/* A desk by docs/fieldbook.md that keeps what it gets, and a network between that does what networks do. */
class BadDesk {
  readonly lines = new Map<string, string>();
  readonly photos = new Map<string, Uint8Array>();
  readonly whole = new Set<string>();
  doubled = 0;
  changed = 0;
  requests = 0;
  mood: Mood = 'well';

  constructor(private readonly chance: () => number) {}

  fetch = async (address: string, init: RequestInit): Promise<Response> => {
    this.requests += 1;
    if (this.mood === 'away') throw new TypeError('no network');
    if (this.mood === 'trouble') return new Response('<h1>Bad gateway</h1>', { status: 502 });
    if (this.mood === 'unread') return this.say({ error: { key: 'x', text: 'unread' } }, 422);
    if (this.mood === 'odd') return new Response('<html>Log in to the hotel</html>', { status: 200 });
    const answer = address.includes('/photos/') ? await this.photo(address, init) : this.take(init);
    if (this.mood === 'lost_answer') throw new TypeError('the answer was lost');
    return answer;
  };

  private say(body: unknown, status = 200): Response {
    return new Response(JSON.stringify(body), { status, headers: { 'content-type': 'application/json' } });
  }

  private take(init: RequestInit): Response {
    const { lines } = JSON.parse(String(init.body)) as { lines: { line: string }[] };
    if (lines.length > 200 || String(init.body).length > 900_000) return this.say({ error: { key: 'x', text: 'too much' } }, 422);
    const taken = this.mood === 'some' || this.mood === 'cut' ? lines.slice(0, Math.ceil(lines.length * this.chance())) : lines;
    const answers = taken.map((line) => {
      const text = JSON.stringify(line);
      const before = this.lines.get(line.line);
      if (before !== undefined && before !== text) this.changed += 1;
      this.lines.set(line.line, before ?? text);
      return { line: line.line, is: before === undefined ? 'kept' : 'already', why: null };
    });
    if (this.mood === 'cut') throw new TypeError('cut off');
    return this.say({ answers, wipe: false, photos_wanted: [] });
  }

  private async photo(address: string, init: RequestInit): Promise<Response> {
    const name = /photos\/([0-9a-f]{64})/.exec(address)![1]!;
    const had = this.photos.get(name) ?? new Uint8Array();
    if (init.method === 'GET') return this.say({ received: had.length, bytes: null, is_whole: this.whole.has(name) });
    const query = new URL(address, 'http://desk').searchParams;
    const from = Number(query.get('from'));
    const total = Number(query.get('bytes'));
    let piece = init.body as Uint8Array;
    if (this.mood === 'cut') piece = piece.slice(0, Math.floor(piece.length * this.chance()));
    if (from <= had.length) {
      const joined = new Uint8Array(Math.max(had.length, from + piece.length));
      joined.set(had);
      joined.set(piece, from);
      this.photos.set(name, joined);
      if (joined.length === total && (await sha256Hex(joined)) === name) this.whole.add(name);
    }
    if (this.mood === 'cut') throw new TypeError('cut off');
    return this.say({ received: this.photos.get(name)!.length, is_whole: this.whole.has(name) });
  }
}

const MOODS: Mood[] = ['well', 'well', 'well', 'away', 'cut', 'trouble', 'lost_answer', 'some', 'odd', 'unread'];

export interface ScriptResult {
  seed: number;
  shown: number;
  photos: number;
  lost: number;
  missing_photos: number;
  doubled: number;
  changed: number;
  gaps: number;
  still_unsent: number;
  most_requests: number;
}

/* Opens the book as a fresh process would: nothing but the disk. */
async function reopened(name: string, made: { vault: any; desk: CryptoKeyPair }, desk: BadDesk, chance: () => number) {
  const base = await openBase(() => undefined);
  const sealer = await Sealer.to(await crypto.subtle.exportKey('spki', made.desk.publicKey));
  const lines = new LineStore({ base, vault: made.vault, sealer, device: name, now: () => new Date(1e12 * chance()) });
  await lines.catchUp();
  const photos = new PhotoStore({ base, vault: made.vault, sealer });
  const outbox = new Outbox({
    lines,
    photos,
    desk: new DeskLine('token', desk.fetch),
    now: () => 0,
    chance,
    onChange: () => undefined,
    onStanding: () => undefined,
    onSetAside: () => undefined,
    onWipe: async () => undefined,
  });
  return { base, lines, photos, outbox };
}

export async function randomScript(seed: number, first: Base, phone: (base: Base, device?: string) => Promise<any>): Promise<ScriptResult> {
  const chance = chances(seed);
  const desk = new BadDesk(chance);
  const made = await phone(first);
  first.close();
  const shown = new Map<string, string>();
  const pictures = new Map<string, Uint8Array>();
  let book = await reopened('phone-1', made, desk, chance);
  let mostRequests = 0;
  const steps = 20 + Math.floor(chance() * 40);
  for (let step = 0; step < steps; step += 1) {
    desk.mood = MOODS[Math.floor(chance() * MOODS.length)]!;
    const what = chance();
    if (what < 0.55) {
      const writes = Array.from({ length: 1 + Math.floor(chance() * 5) }, (_, at) =>
        book.lines.append(async () => ({ kind: 'note_written' as const, body: { text: `${seed} ${step} ${at}` }, visit: 'v', apiary: 'A' })),
      );
      for (const line of await Promise.all(writes)) shown.set(line.line, JSON.stringify(line));
    } else if (what < 0.65) {
      const bytes = crypto.getRandomValues(new Uint8Array(1 + Math.floor(chance() * 60_000)));
      const photo = await book.photos.prepare(new Blob([bytes], { type: 'image/jpeg' }));
      const line = await book.lines.append(async () => ({ kind: 'note_written' as const, body: { text: photo.kept.photo }, visit: 'v', apiary: 'A' }), photo);
      shown.set(line.line, JSON.stringify(line));
      pictures.set(photo.kept.photo, bytes);
    } else if (what < 0.9) {
      const before = desk.requests;
      const running = book.outbox.handIn();
      if (chance() < 0.3) {
        // the app is killed while it hands in: the old run ends wherever it is
        book.outbox.stop();
        book.base.close();
        await running.catch(() => undefined);
        book = await reopened('phone-1', made, desk, chance);
      } else await running;
      book.outbox.stop();
      mostRequests = Math.max(mostRequests, desk.requests - before);
      book = { ...book, outbox: (await reopened('phone-1', made, desk, chance)).outbox };
    } else {
      book.base.close();
      book = await reopened('phone-1', made, desk, chance);
    }
  }
  desk.mood = 'well';
  book = await reopened('phone-1', made, desk, chance);
  for (let round = 0; round < 3; round += 1) await book.outbox.handIn();
  book.outbox.stop();
  const numbers = [...desk.lines.values()].map((text) => JSON.parse(text).number as number).sort((a, b) => a - b);
  let missing = 0;
  for (const [name, bytes] of pictures) {
    const got = desk.photos.get(name);
    if (!desk.whole.has(name) || !got || Buffer.compare(Buffer.from(got), Buffer.from(bytes)) !== 0) missing += 1;
  }
  return {
    seed,
    shown: shown.size,
    photos: pictures.size,
    lost: [...shown].filter(([name, text]) => desk.lines.get(name) !== text).length,
    missing_photos: missing,
    doubled: numbers.length - new Set(numbers).size,
    changed: desk.changed,
    gaps: numbers.filter((number, at) => number !== at + 1).length,
    still_unsent: (await book.base.count('unsent')) + (await book.base.count('unsent_photos')),
    most_requests: mostRequests,
  };
}

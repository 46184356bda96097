/* What the tests ask of the phone's core, in Node: a question as JSON on stdin, the answer as JSON on stdout. */
import 'fake-indexeddb/auto';
import { BASE_NAME, BASE_VERSION, type Base, clearBase, keepSingle, openBase, single } from '@core/base';
import { fromBase64, toBase64, toBytes, toText } from '@core/bytes';
import { waitBefore } from '@core/backoff';
import { checkPin, enrol } from '@core/enrol';
import { fold, foldFound } from '@core/fold';
import { LineStore } from '@core/lines';
import { makeParcel, openParcel, unsentParcels } from '@core/parcel';
import { PhotoStore } from '@core/photos';
import { fitted } from '@core/pictures';
import { privateBytes, publicBytes, Sealer, sealKeyOf, sealKeys, signKeys } from '@core/sealing';
import { Trouble } from '@core/trouble';
import { Vault, waitAfter, waitLeft } from '@core/vault';
import { randomScript } from './scripts';

const FEW_ROUNDS = 1000;
const PIN = 'öl 7391';

type Ask = Record<string, any>;

async function fresh(name: string): Promise<Base> {
  await new Promise<void>((done) => {
    const gone = indexedDB.deleteDatabase(BASE_NAME);
    gone.onsuccess = gone.onerror = () => done();
  });
  void name;
  return openBase(() => undefined);
}

export async function phone(base: Base, device = 'phone-1') {
  const { vault, kept } = await Vault.make(PIN, FEW_ROUNDS);
  const desk = await sealKeys();
  const sign = await signKeys();
  const own = await sealKeys();
  const deskSign = await signKeys();
  await keepSingle(base, 'vault', kept);
  await keepSingle(base, 'device', {
    device,
    label: 'Phone one',
    desk_seal_key: await publicBytes(desk.publicKey),
    desk_sign_key: await publicBytes(deskSign.publicKey),
    seal_key: await vault.close(await privateBytes(own.privateKey), 'seal key'),
    sign_key: sign.privateKey,
    secret: await vault.closeJson({ token: 't', who: 'w', inspector: null }, 'secret'),
  });
  const sealer = await Sealer.to(await publicBytes(desk.publicKey));
  const lines = new LineStore({ base, vault, sealer, device, now: () => new Date('2026-07-08T10:00:00Z') });
  return { vault, kept, desk, sign, own, deskSign, sealer, lines, photos: new PhotoStore({ base, vault, sealer }) };
}

const note = (text: string, visit: string | null = 'v1') => async () => ({
  kind: 'note_written' as const,
  body: { text },
  visit,
  apiary: 'A7',
});

async function refusal(work: () => unknown): Promise<string> {
  try {
    await work();
    return 'none';
  } catch (error) {
    return error instanceof Trouble ? error.key : String(error);
  }
}

const COMMANDS: Record<string, (ask: Ask) => Promise<unknown>> = {
  fold: async ({ sets }) =>
    Promise.all(sets.map(async (lines: any) => ({ visits: await fold(lines), found: foldFound(lines) }))),

  waits: async () => ({
    after: [0, 1, 2, 3, 4, 5, 6, 7, 50].map(waitAfter),
    fresh: waitLeft({ count: 4, last_at: 1_000_000 }, 1_000_000),
    half: waitLeft({ count: 4, last_at: 1_000_000 }, 1_005_000),
    over: waitLeft({ count: 4, last_at: 1_000_000 }, 1_016_000),
    setBack: waitLeft({ count: 4, last_at: 1_000_000_000 }, 0),
    backoff: [1, 2, 3, 4, 9, 50].map((failures) => [waitBefore(failures, 0), waitBefore(failures, 1)]),
    fitted: [fitted(4000, 3000), fitted(3000, 4000), fitted(640, 480), fitted(9000, 1)],
  }),

  pins: async () =>
    Promise.all(
      [['12345', '12345'], ['111111', '111111'], ['123456', '123456'], ['654321', '654321'], ['739182', '739183'], ['739182', '739182']].map(
        ([pin, again]) => refusal(() => checkPin(pin!, again!)),
      ),
    ),

  vault: async () => {
    const { vault, kept } = await Vault.make(PIN, FEW_ROUNDS);
    const cipher = await vault.closeJson({ a: 'ø' }, 'here');
    const again = await Vault.open(kept, PIN);
    const rewrapped = await Vault.rewrap(kept, PIN, '918273');
    const other = await Vault.make(PIN, FEW_ROUNDS);
    return {
      same: await again.openJson(cipher, 'here'),
      wrong: await refusal(() => Vault.open(kept, 'ol 7391')),
      afterChange: await (await Vault.open(rewrapped, '918273')).openJson(cipher, 'here'),
      oldPin: await refusal(() => Vault.open(rewrapped, PIN)),
      moved: await vault.openJson(cipher, 'elsewhere').then(() => 'opened', () => 'refused'),
      otherPhone: await refusal(() => Vault.open({ ...kept, device_key: other.kept.device_key }, PIN)),
      isKeptInside: await crypto.subtle.exportKey('raw', kept.device_key).then(() => false, () => true),
      plainTwice: toBase64(new Uint8Array(cipher.data)) !== toBase64(new Uint8Array((await vault.closeJson({ a: 'ø' }, 'here')).data)),
    };
  },

  numbers: async ({ count }) => {
    const base = await fresh('numbers');
    const one = await phone(base);
    const two = new LineStore({ base, vault: one.vault, sealer: one.sealer, device: 'phone-1', now: () => new Date(0) });
    await Promise.all(Array.from({ length: count }, (_, at) => (at % 2 ? two : one.lines).append(note(`n${at}`))));
    const reread = new LineStore({ base, vault: one.vault, sealer: one.sealer, device: 'phone-1', now: () => new Date() });
    await reread.catchUp();
    const rows = await base.getAll('lines');
    return {
      numbers: [...reread.lines.keys()],
      names: new Set([...reread.lines.values()].map((line) => line.line)).size,
      unsent: await base.count('unsent'),
      isHidden: rows.every((row) => !toText(new Uint8Array(row.cipher.data)).includes('note_written')),
    };
  },

  seenElsewhere: async ({ count }) => {
    const base = await fresh('seenElsewhere');
    const one = await phone(base);
    const two = new LineStore({ base, vault: one.vault, sealer: one.sealer, device: 'phone-1', now: () => new Date(0) });
    let isOver = false;
    const reading = (async () => {
      while (!isOver) await two.catchUp();
    })();
    for (let at = 0; at < count; at += 1) await one.lines.append(note(`n${at}`));
    isOver = true;
    await reading;
    await two.catchUp();
    return { written: one.lines.lines.size, seen: two.lines.size };
  },

  full: async () => {
    const base = await fresh('full');
    const { lines, photos } = await phone(base);
    await lines.append(note('first'));
    const put = IDBObjectStore.prototype.add;
    let isFull = true;
    IDBObjectStore.prototype.add = function (this: IDBObjectStore, ...args: [any]) {
      if (isFull && this.name === 'unsent') throw new DOMException('full', 'QuotaExceededError');
      return put.apply(this, args);
    };
    const said = await refusal(() => lines.append(note('second')));
    const photo = await photos.prepare(new Blob(['picture'], { type: 'image/jpeg' }));
    const saidPhoto = await refusal(() => lines.append(note('third'), photo));
    const counts = [await base.count('lines'), await base.count('unsent'), await base.count('photos')];
    isFull = false;
    const after = await lines.append(note('fourth'));
    return { said, saidPhoto, counts, next: after.number };
  },

  fullAnswered: async () => {
    const base = await fresh('fullAnswered');
    const { lines } = await phone(base);
    for (let at = 0; at < 5; at += 1) await lines.append(note(`n${at}`));
    const put = IDBObjectStore.prototype.put;
    IDBObjectStore.prototype.put = function () {
      throw new DOMException('full', 'QuotaExceededError');
    } as typeof put;
    await lines.answered(new Map([[1, 'kept'], [2, 'already']]));
    IDBObjectStore.prototype.put = put;
    await lines.answered(new Map([[3, 'set_aside']]));
    return { unsent: await base.getAllKeys('unsent'), is: (await base.getAll('lines')).map((row) => row.is) };
  },

  tooLong: async () => {
    const base = await fresh('long');
    const { lines } = await phone(base);
    return refusal(() => lines.append(note('x'.repeat(900_000))));
  },

  migration: async () => {
    const gone = indexedDB.deleteDatabase(BASE_NAME);
    await new Promise((done) => (gone.onsuccess = done));
    const old = await openBase(() => undefined, 1);
    const { vault, sealer } = await phone(old);
    for (const number of [1, 2, 3]) {
      const line = { line: `name-${number}`, device: 'phone-1', number, visit: 'v', apiary: 'A', kind: 'note_written', written_at: '2026-07-08T10:00:00Z', body: { text: `n${number}` } };
      const text = toBytes(JSON.stringify(line));
      await old.put('lines', { number, line: line.line, cipher: await vault.close(text, `line ${number} name-${number}`) } as any);
      if (number === 3) await old.put('unsent', { number, line: line.line, written_at: line.written_at, box: await sealer.seal(text) });
    }
    await old.put('singles', 4, 'next_number');
    const stores = [...old.objectStoreNames];
    old.close();
    const now = await openBase(() => undefined);
    const lines = new LineStore({ base: now, vault, sealer, device: 'phone-1', now: () => new Date() });
    await lines.catchUp();
    const next = await lines.append(note('new'));
    return {
      version: [1, now.version, BASE_VERSION],
      before: stores,
      after: [...now.objectStoreNames],
      texts: [...lines.lines.values()].map((line) => (line.body as any).text),
      is: (await now.getAll('lines')).map((row) => row.is),
      next: next.number,
      isEnrolled: (await single(now, 'device')) !== undefined,
    };
  },

  renewed: async () => {
    const base = await fresh('renewed');
    let told = 0;
    const old = await openBase(() => (told += 1));
    base.close();
    const { lines } = await phone(old);
    await lines.append(note('before'));
    const newer = await openBase(() => undefined, BASE_VERSION + 1);
    const said = await refusal(() => lines.append(note('after')));
    const kept = await newer.count('lines');
    newer.close();
    return { told, said, kept };
  },

  cleared: async () => {
    const base = await fresh('cleared');
    const { lines, photos } = await phone(base);
    await keepSingle(base, 'words', { locale: 'en', forms: { a: ['b'] } });
    await lines.append(note('x'), await photos.prepare(new Blob(['picture'])));
    await clearBase(base);
    const left: Record<string, number> = {};
    for (const name of base.objectStoreNames) left[name] = await base.count(name);
    return { left, words: await single(base, 'words') };
  },

  /* The phone's side of parcels, to be opened by the desk's code and the other way round. */
  parcel: async ({ desk_seal_key, from_desk, desk_sign_key, seal_pkcs8 }) => {
    const base = await fresh('parcel');
    const { vault, lines, photos, sign, own } = await phone(base);
    const sealer = await Sealer.to(fromBase64(desk_seal_key));
    const kept = (await single(base, 'device'))!;
    await keepSingle(base, 'device', { ...kept, desk_seal_key: fromBase64(desk_seal_key) });
    const here = new LineStore({ base, vault, sealer, device: 'phone-1', now: () => new Date('2026-07-08T10:00:00Z') });
    const pictures = new PhotoStore({ base, vault, sealer });
    const first = await here.append(note('Æ'));
    const photo = await pictures.prepare(new Blob(['the picture'], { type: 'image/jpeg' }));
    const second = await here.append(note('with a photo'), photo);
    void lines, photos, own;
    const made = await unsentParcels(base, new Date('2026-07-08T11:00:00Z'));
    const plain = await makeParcel({ lines: [first], photos: [] }, { parcel: 1, from: 'phone-1', to: 'desk', made_at: '2026-07-08T11:00:00Z' }, fromBase64(desk_seal_key), sign.privateKey);
    const seal = seal_pkcs8 ? await sealKeyOf(fromBase64(seal_pkcs8)) : null;
    const opened = seal ? await openParcel(from_desk, 'phone-1', seal, fromBase64(desk_sign_key)) : null;
    const refused = seal
      ? [
          await refusal(() => openParcel(from_desk, 'phone-2', seal, fromBase64(desk_sign_key))),
          await refusal(() => openParcel(from_desk.replace('"made_at": "2026', '"made_at": "2025'), 'phone-1', seal, fromBase64(desk_sign_key))),
          await refusal(() => openParcel(from_desk, 'phone-1', seal, kept.desk_sign_key)),
          await refusal(() => openParcel('{}', 'phone-1', seal, kept.desk_sign_key)),
        ]
      : [];
    return {
      files: await Promise.all(made.map(async (one) => ({ name: one.name, text: await one.file.text() }))),
      plain: await plain.text(),
      sign_key: toBase64(await publicBytes(sign.publicKey)),
      lines: [first, second],
      photo: photo.kept.photo,
      opened,
      refused,
    };
  },

  enrol: async ({ answer, status }) => {
    const base = await fresh('enrol');
    let sent: any = null;
    const reach = async (address: string, init: RequestInit): Promise<Response> => {
      sent = { address, ...JSON.parse(String(init.body)) };
      if (status === 0) throw new TypeError('network');
      return new Response(JSON.stringify(answer), { status, headers: { 'content-type': 'application/json' } });
    };
    const said = await refusal(() => enrol(base, { code: ' AB-1 ', label: 'Mine', pin: '739182', again: '739182' }, reach, FEW_ROUNDS));
    const device = await single(base, 'device');
    const vault = await single(base, 'vault');
    const secret = vault && device ? await (await Vault.open(vault, '739182')).openJson(device.secret, 'secret') : null;
    return { said, sent: sent && { address: sent.address, code: sent.code, label: sent.label, keys: [sent.seal_key, sent.sign_key] }, device: device?.device ?? null, secret, next: await single(base, 'next_number') };
  },

  scripts: async ({ seeds }) => {
    const results = [];
    for (const seed of seeds) results.push(await randomScript(seed, await fresh(String(seed)), phone));
    return results;
  },
};

const chunks: Buffer[] = [];
for await (const chunk of process.stdin) chunks.push(chunk as Buffer);
const asked = JSON.parse(Buffer.concat(chunks).toString()) as { command: string; ask: Ask };
const answer = await COMMANDS[asked.command]!(asked.ask ?? {});
process.stdout.write(JSON.stringify(answer), () => process.exit(0));

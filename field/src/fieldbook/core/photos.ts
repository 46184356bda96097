/* Photos on the phone: each under a key of its own, which lies under the data key and, until sent, sealed to the desk. */

import type { Base } from './base';
import { type Bytes, sha256Hex, toBase64, toBytes } from './bytes';
import type { NewPhoto } from './lines';
import type { Sealer } from './sealing';
import { closeAlone, openAlone, type Vault } from './vault';

export class PhotoStore {
  readonly #base: Base;
  readonly #vault: Vault;
  readonly #sealer: Sealer;

  constructor(parts: { base: Base; vault: Vault; sealer: Sealer }) {
    this.#base = parts.base;
    this.#vault = parts.vault;
    this.#sealer = parts.sealer;
  }

  /* Make ready what is stored together with the line that names the photo. */
  async prepare(picture: Blob): Promise<NewPhoto> {
    const plain = new Uint8Array(await picture.arrayBuffer());
    const photo = await sha256Hex(plain);
    const { cipher, key } = await closeAlone(plain);
    const told = toBytes(JSON.stringify({ photo, content_key: toBase64(key) }));
    const [kept, box] = await Promise.all([this.#vault.close(key, `photo ${photo}`), this.#sealer.seal(told)]);
    return {
      kept: { photo, bytes: plain.length, media_type: picture.type || 'image/jpeg', cipher, key: kept },
      unsent: { photo, box },
    };
  }

  async bytes(photo: string): Promise<{ bytes: Bytes; media_type: string } | null> {
    const kept = await this.#base.get('photos', photo);
    if (!kept) return null;
    const key = await this.#vault.open(kept.key, `photo ${photo}`);
    return { bytes: new Uint8Array(await openAlone(kept.cipher, key)), media_type: kept.media_type };
  }

  unsent(): Promise<string[]> {
    return this.#base.getAllKeys('unsent_photos');
  }

  async sent(photo: string): Promise<void> {
    const work = this.#base.transaction('unsent_photos', 'readwrite', { durability: 'strict' });
    await Promise.all([work.store.delete(photo), work.done]);
  }

  /* The desk asks for a photo that was thought to be there. */
  async wanted(photo: string, number: number, written_at: string): Promise<boolean> {
    const kept = await this.#base.get('photos', photo);
    if (!kept || (await this.#base.getKey('unsent_photos', photo)) !== undefined) return kept !== undefined;
    const key = new Uint8Array(await this.#vault.open(kept.key, `photo ${photo}`));
    const box = await this.#sealer.seal(toBytes(JSON.stringify({ photo, content_key: toBase64(key) })));
    const work = this.#base.transaction('unsent_photos', 'readwrite', { durability: 'strict' });
    await Promise.all([work.store.put({ photo, box, number, written_at }), work.done]);
    return true;
  }

  async forget(photo: string): Promise<void> {
    if ((await this.#base.getKey('unsent_photos', photo)) === undefined) await this.#base.delete('photos', photo);
  }
}

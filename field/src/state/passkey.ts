/* Passkeys in the browser: the desk asks, the machine's own lock answers. */

import { send, type Schemas } from '../api/client';

type Question = Schemas['PasskeyQuestionShape'];

export function canUsePasskeys(): boolean {
  return 'PublicKeyCredential' in window && 'parseRequestOptionsFromJSON' in PublicKeyCredential;
}

function answered(credential: Credential | null): Record<string, unknown> {
  if (!(credential instanceof PublicKeyCredential)) throw new Error('Expected a passkey, got none.');
  return credential.toJSON() as unknown as Record<string, unknown>;
}

export async function signInByPasskey(): Promise<void> {
  const { asked, options } = await send<Question>('POST', '/api/access/passkey/ask');
  const publicKey = PublicKeyCredential.parseRequestOptionsFromJSON(
    options as unknown as PublicKeyCredentialRequestOptionsJSON,
  );
  const credential = answered(await navigator.credentials.get({ publicKey }));
  await send('POST', '/api/access/passkey/sign-in', { asked, credential });
}

export async function addPasskey(label: string): Promise<void> {
  const { asked, options } = await send<Question>('POST', '/api/access/passkey/new/ask');
  const publicKey = PublicKeyCredential.parseCreationOptionsFromJSON(
    options as unknown as PublicKeyCredentialCreationOptionsJSON,
  );
  const credential = answered(await navigator.credentials.create({ publicKey }));
  await send('POST', '/api/access/passkey/new', { asked, credential, label });
}

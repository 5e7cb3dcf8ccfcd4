import { Readable } from 'node:stream';
import { ReadableStream } from 'node:stream/web';

/** The library of encryption, read where it is used: most farms encrypt nothing here. */
const library = () => import('age-encryption');

/** A step of a pipeline. */
type Step = (source: AsyncIterable<Uint8Array>) => AsyncIterable<Uint8Array>;

/** Encrypts to an age recipient (age-encryption.org/v1); passes everything on as it is where none is named. */
export function encrypting(recipient: string | null): Step {
  return async function* (source) {
    if (recipient === null) return yield* source;
    const { Encrypter } = await library();
    const encrypter = new Encrypter();
    encrypter.addRecipient(recipient);
    yield* await encrypter.encrypt(ReadableStream.from(source) as globalThis.ReadableStream<Uint8Array>);
  };
}

/** @throws Error naming the setting, when the text is no recipient */
export async function checkRecipient(recipient: string): Promise<void> {
  const { Encrypter } = await library();
  try {
    new Encrypter().addRecipient(recipient);
  } catch (error) {
    throw new Error(`BACKUP_RECIPIENT is not the public half of an age key: ${(error as Error).message}`);
  }
}

const magic = Buffer.from('age-encryption.org/v1');

/** Whether a file that begins so is encrypted. */
export const isEncrypted = (first: Uint8Array): boolean => magic.equals(first.subarray(0, magic.length));

/**
 * Opens an encrypted file with an identity (AGE-SECRET-KEY-1...).
 * @throws Error when the identity does not open it
 */
export async function decrypted(source: Readable, identity: string): Promise<Readable> {
  const { Decrypter } = await library();
  const decrypter = new Decrypter();
  decrypter.addIdentity(identity);
  const clear = await decrypter.decrypt(Readable.toWeb(source) as globalThis.ReadableStream<Uint8Array>);
  return Readable.fromWeb(clear as ReadableStream);
}

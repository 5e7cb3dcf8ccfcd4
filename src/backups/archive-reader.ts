import { createHash, type Hash } from 'node:crypto';
import { createReadStream } from 'node:fs';
import { open } from 'node:fs/promises';
import type { Readable } from 'node:stream';
import { createGunzip } from 'node:zlib';
import { extract } from 'tar-stream';
import {
  archiveFormat,
  type Contents,
  contentsName,
  contentsSchema,
  type Head,
  headName,
  headSchema,
  partPattern,
} from './archive.schema.ts';
import { decrypted, isEncrypted } from './encryption.ts';

/** An archive cannot be used, in a sentence for whoever wanted to. */
export class ArchiveFault extends Error {}

/** An archive on disk, and the identity that opens it where it is encrypted. */
export interface ArchiveFile {
  path: string;
  identity?: string | undefined;
}

/** What an archive holds, met in its order: head, the rows of one table after the other, contents. */
export interface ArchiveVisitor {
  head(head: Head): Promise<void>;
  rows(table: string, bytes: Readable): Promise<void>;
}

async function firstBytes(path: string): Promise<Buffer> {
  const file = await open(path).catch((error: NodeJS.ErrnoException) => {
    throw new ArchiveFault(
      error.code === 'ENOENT' ? `There is no file ${path}.` : `${path} cannot be read: ${error.message}`,
    );
  });
  try {
    const { buffer, bytesRead } = await file.read(Buffer.alloc(32), 0, 32, 0);
    return buffer.subarray(0, bytesRead);
  } finally {
    await file.close();
  }
}

/** The tar inside, in the clear. */
async function openClear({ path, identity }: ArchiveFile): Promise<Readable> {
  const first = await firstBytes(path);
  const file = createReadStream(path);
  if (!isEncrypted(first)) {
    if (first[0] !== 0x1f || first[1] !== 0x8b)
      throw new ArchiveFault(`${path} is not a backup of Evenwater.`);
    return file;
  }
  if (identity === undefined)
    throw new ArchiveFault(
      `${path} is encrypted. Name the file with the age identity that opens it: --identity FILE`,
    );
  return decrypted(file, identity).catch((error: Error) => {
    throw new ArchiveFault(`${path} is encrypted, and this identity does not open it: ${error.message}`);
  });
}

async function textOf(entry: Readable): Promise<unknown> {
  const parts: Buffer[] = [];
  for await (const chunk of entry as AsyncIterable<Buffer>) parts.push(chunk);
  return JSON.parse(Buffer.concat(parts).toString('utf8'));
}

function checkFormat(head: Head): Head {
  if (head.format > archiveFormat)
    throw new ArchiveFault(
      'This backup was made by a newer Evenwater. Bring the service to that version first.',
    );
  return head;
}

const cutOff = 'The file ends too early: it was not copied or written to its end. Use another backup.';

/** The fault behind what the unpacking met. */
function faultOf(error: unknown): Error {
  if (error instanceof ArchiveFault) return error;
  const { code, message } = error as NodeJS.ErrnoException;
  if (code === 'Z_BUF_ERROR' || /unexpected end/i.test(message)) return new ArchiveFault(cutOff);
  if (code?.startsWith('Z_') || /tar|header|decrypt|invalid|authenti|truncated|stream/i.test(message))
    return new ArchiveFault(`The file is damaged (${message}). Use another backup.`);
  return error as Error;
}

/**
 * Reads an archive from its beginning to its end.
 * @returns what it said that it holds
 * @throws ArchiveFault when it is no archive, encrypted to somebody else, cut off or damaged
 */
export async function readArchive(file: ArchiveFile, visitor: ArchiveVisitor): Promise<Contents> {
  const clear = await openClear(file);
  const gunzip = createGunzip();
  const tar = extract();
  clear.on('error', (error) => gunzip.destroy(error)).pipe(gunzip);
  gunzip.on('error', (error) => tar.destroy(error)).pipe(tar);
  let head: Head | undefined;
  let contents: Contents | undefined;
  try {
    for await (const entry of tar) {
      const { name } = entry.header;
      if (name === headName) {
        head = checkFormat(headSchema.parse(await textOf(entry as unknown as Readable)));
        await visitor.head(head);
      } else if (head === undefined) {
        throw new ArchiveFault(`${file.path} is not a backup of Evenwater.`);
      } else if (name === contentsName) {
        contents = contentsSchema.parse(await textOf(entry as unknown as Readable));
      } else {
        const table = partPattern.exec(name)?.[1];
        if (table !== undefined) await visitor.rows(table, entry as unknown as Readable);
      }
      entry.resume();
    }
  } catch (error) {
    throw faultOf(error);
  } finally {
    clear.destroy();
    gunzip.destroy();
  }
  if (head === undefined) throw new ArchiveFault(`${file.path} is not a backup of Evenwater.`);
  if (contents === undefined) throw new ArchiveFault(cutOff);
  return contents;
}

/** Compares what came out of an archive with what it said that it holds. @throws ArchiveFault naming the table */
export class RowCheck {
  readonly #hashes = new Map<string, Hash>();

  add(table: string, chunk: Buffer): void {
    const hash = this.#hashes.get(table) ?? createHash('sha256');
    this.#hashes.set(table, hash.update(chunk));
  }

  end({ tables }: Contents): void {
    for (const { name, sha256 } of tables) {
      const hash = this.#hashes.get(name) ?? createHash('sha256');
      if (hash.digest('hex') !== sha256)
        throw new ArchiveFault(
          `The file is damaged: the rows of ${name} are not those that were written. Use another backup.`,
        );
    }
  }
}

/** Reads an archive through without using it. @throws ArchiveFault */
export async function checkArchive(file: ArchiveFile): Promise<{ head: Head; contents: Contents }> {
  const check = new RowCheck();
  let head: Head | undefined;
  const contents = await readArchive(file, {
    head: async (found) => {
      head = found;
    },
    rows: async (table, bytes) => {
      for await (const chunk of bytes as AsyncIterable<Buffer>) check.add(table, chunk);
    },
  });
  check.end(contents);
  return { head: head as Head, contents };
}

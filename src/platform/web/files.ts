import { createHash, randomUUID } from 'node:crypto';
import { createWriteStream } from 'node:fs';
import { mkdir, rm } from 'node:fs/promises';
import { join } from 'node:path';
import type { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import fastifyMultipart from '@fastify/multipart';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { Refusal } from '../refusal.ts';
import { cleanText } from './clean-text.ts';

/** A file that came with a form. */
export interface SentFile {
  fileName: string;
  content: Uint8Array<ArrayBuffer>;
}

const files = new WeakMap<FastifyRequest, SentFile[]>();

/**
 * Lets the routes of a scope take files with a form, each of at most so many bytes; one, and ten fields, unless told
 * otherwise. The form's body tells a file from others by its name and hash, so that the same form twice is one change.
 */
export async function takeFiles(
  scope: FastifyInstance,
  largest: number,
  most: { files: number; fields: number } = { files: 1, fields: 10 },
): Promise<void> {
  await scope.register(fastifyMultipart, {
    attachFieldsToBody: 'keyValues',
    limits: { fileSize: largest, fieldSize: largest, ...most },
    onFile: keepFile,
  });
  // A scope's handler that throws hands on to the handler of all.
  scope.setErrorHandler((error: Error) => {
    throw /multipart/i.test(error.message) && !('code' in error)
      ? new Refusal(notWhole, { status: 400 })
      : error;
  });
}

/** The parser's own errors carry no code: no boundary, or an end that came too soon. */
const notWhole = 'The form did not arrive whole. Choose the file again and send it once more.';

const paths = new WeakMap<FastifyRequest, string>();

/**
 * The same for one file that is too large to hold in memory: it lies in a folder until its request is answered.
 * @param largest bytes
 */
export async function takeFileToDisk(
  scope: FastifyInstance,
  { largest, folder }: { largest: number; folder: string },
): Promise<void> {
  await scope.register(fastifyMultipart, {
    attachFieldsToBody: 'keyValues',
    limits: { fileSize: largest, files: 1, fields: 10 },
    async onFile(this: FastifyRequest, part) {
      await mkdir(folder, { recursive: true });
      const path = join(folder, `${randomUUID()}.part`);
      paths.set(this, path);
      const file = part.file as Readable & { truncated?: boolean };
      await pipeline(file, createWriteStream(path, { mode: 0o600 }));
      if (file.truncated === true)
        throw new Refusal('This file is too large to be sent by a page.', { status: 413 });
      (part as unknown as { value: string }).value = part.filename;
    },
  });
  const clear = async (request: FastifyRequest) => {
    const path = paths.get(request);
    if (path !== undefined) await rm(path, { force: true });
  };
  scope.addHook('onResponse', clear);
  scope.addHook('onRequestAbort', clear);
}

/** Where the file that came with the form lies; null where none came. */
export const pathOfFile = (request: FastifyRequest): string | null => paths.get(request) ?? null;

/** Keeps a file beside its request. */
async function keepFile(
  this: FastifyRequest,
  part: { toBuffer(): Promise<Buffer>; filename: string },
): Promise<void> {
  const content = new Uint8Array(await part.toBuffer());
  const fileName = cleanText(part.filename)
    .replace(/^.*[\\/]/, '')
    .slice(0, 200);
  files.set(this, [...(files.get(this) ?? []), { fileName, content }]);
  const hash = createHash('sha256').update(content).digest('hex');
  (part as unknown as { value: string }).value = `${fileName} ${hash}`;
}

/** The files that came with the form, without empty ones: a field in which none was chosen sends one. */
export const sentFiles = (request: FastifyRequest): SentFile[] =>
  (files.get(request) ?? []).filter(({ content }) => content.length > 0);

/** The file that came with the form; null where none did, or an empty one. */
export const fileOf = (request: FastifyRequest): SentFile | null => sentFiles(request)[0] ?? null;

import { createHash, randomUUID } from 'node:crypto';
import { createWriteStream } from 'node:fs';
import { mkdir, rm } from 'node:fs/promises';
import { join } from 'node:path';
import type { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import fastifyMultipart from '@fastify/multipart';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { Refusal } from '../refusal.ts';
import type { FieldError } from '../views/page.ts';
import { cleanText } from './clean-text.ts';

/** A file that came with a form. */
export interface SentFile {
  fileName: string;
  content: Uint8Array<ArrayBuffer>;
}

const files = new WeakMap<FastifyRequest, SentFile[]>();
const tooLarge = new WeakMap<FastifyRequest, FieldError>();

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
    // The form is drawn again with all that was typed: see `tooLargeFile`.
    throwFileSizeLimit: false,
    onFile(this: FastifyRequest, part) {
      return keepFile(this, part as FilePart, largest);
    },
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

interface FilePart {
  toBuffer(): Promise<Buffer>;
  file: { truncated?: boolean };
  filename: string;
  fieldname: string;
  value?: string;
}

/** Keeps a file beside its request; of one that is too large nothing but that. */
async function keepFile(request: FastifyRequest, part: FilePart, largest: number): Promise<void> {
  const content = new Uint8Array(await part.toBuffer());
  const fileName = cleanText(part.filename)
    .replace(/^.*[\\/]/, '')
    .slice(0, 200);
  if (part.file.truncated === true) {
    const most = Math.floor(largest / (1024 * 1024));
    const message = `“${fileName}” is too large: a file of at most ${most} MB is taken here. Choose a smaller one.`;
    tooLarge.set(request, { field: part.fieldname, message });
    part.value = fileName;
    return;
  }
  files.set(request, [...(files.get(request) ?? []), { fileName, content }]);
  const hash = createHash('sha256').update(content).digest('hex');
  part.value = `${fileName} ${hash}`;
}

/** What is said of a file of the form that is too large; null where none is. Nothing of such a file is kept. */
export const tooLargeFile = (request: FastifyRequest): FieldError | null => tooLarge.get(request) ?? null;

/** The files that came with the form, without empty ones: a field in which none was chosen sends one. */
export const sentFiles = (request: FastifyRequest): SentFile[] =>
  (files.get(request) ?? []).filter(({ content }) => content.length > 0);

/** The file that came with the form; null where none did, or an empty one. */
export const fileOf = (request: FastifyRequest): SentFile | null => sentFiles(request)[0] ?? null;

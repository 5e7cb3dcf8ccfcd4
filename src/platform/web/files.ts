import { createHash } from 'node:crypto';
import fastifyMultipart from '@fastify/multipart';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { Refusal } from '../refusal.ts';
import { cleanText } from './clean-text.ts';

/** A file that came with a form. */
export interface SentFile {
  fileName: string;
  content: Uint8Array<ArrayBuffer>;
}

const files = new WeakMap<FastifyRequest, SentFile>();

/**
 * Lets the routes of a scope take one file with a form, of at most so many bytes. The form's body tells it from others
 * by its name and hash, so that the same form twice is one change.
 */
export async function takeFiles(scope: FastifyInstance, largest: number): Promise<void> {
  await scope.register(fastifyMultipart, {
    attachFieldsToBody: 'keyValues',
    limits: { fileSize: largest, fieldSize: largest, files: 1, fields: 10 },
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

/** Keeps a file beside its request. */
async function keepFile(
  this: FastifyRequest,
  part: { toBuffer(): Promise<Buffer>; filename: string },
): Promise<void> {
  const content = new Uint8Array(await part.toBuffer());
  const fileName = cleanText(part.filename)
    .replace(/^.*[\\/]/, '')
    .slice(0, 200);
  files.set(this, { fileName, content });
  const hash = createHash('sha256').update(content).digest('hex');
  (part as unknown as { value: string }).value = `${fileName} ${hash}`;
}

/** The file that came with the form; null where none did, or an empty one. */
export function fileOf(request: FastifyRequest): SentFile | null {
  const file = files.get(request);
  return file === undefined || file.content.length === 0 ? null : file;
}

import { workerPool } from '../../platform/workers/pool.ts';
import type { LabelsToPrint } from './pdf.ts';

/** Own choices: a thousand labels take some seconds on a slow machine. */
const printInWorker = workerPool<LabelsToPrint, Uint8Array>(new URL('./pdf-worker.ts', import.meta.url), {
  atOnce: 1,
  longestMs: 60_000,
  memoryMb: 512,
  tooMuch: 'So many labels take too long to set. Print them in parts.',
});

/** The PDF of `labelsPdf`, set in a thread of its own, so that others are answered meanwhile. */
export async function printLabels(asked: LabelsToPrint): Promise<Buffer> {
  const parts: Uint8Array[] = [];
  await printInWorker(asked, (part) => parts.push(part));
  return Buffer.concat(parts);
}

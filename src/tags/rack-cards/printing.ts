import { workerPool } from '../../platform/workers/pool.ts';
import type { CardsToPrint } from './cards-pdf.ts';

/** Own choices: one page is drawn within a second. */
const printInWorker = workerPool<CardsToPrint, Uint8Array>(new URL('./cards-worker.ts', import.meta.url), {
  atOnce: 1,
  longestMs: 30_000,
  memoryMb: 256,
  tooMuch: 'The cards take too long to draw. Try again.',
});

/** The PDF of `cardsPdf`, drawn in a thread of its own, so that others are answered meanwhile. */
export async function printCards(asked: CardsToPrint): Promise<Buffer> {
  const parts: Uint8Array[] = [];
  await printInWorker(asked, (part) => parts.push(part));
  return Buffer.concat(parts);
}

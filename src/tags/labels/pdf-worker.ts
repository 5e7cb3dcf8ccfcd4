// Sets labels in a thread of its own; see printing.ts.
import { serveWorker } from '../../platform/workers/serve.ts';
import { labelsPdf } from './pdf.ts';
import type { LabelsToPrint } from './printing.ts';

async function* print({ labels, sheet, first }: LabelsToPrint): AsyncGenerator<Uint8Array> {
  yield await labelsPdf(labels, sheet, first);
}

serveWorker(print);

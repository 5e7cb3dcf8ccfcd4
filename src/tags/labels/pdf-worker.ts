// Sets labels in a thread of its own; see printing.ts.
import { serveWorker } from '../../platform/workers/serve.ts';
import { type LabelsToPrint, labelsPdf } from './pdf.ts';

async function* print(labels: LabelsToPrint): AsyncGenerator<Uint8Array> {
  yield await labelsPdf(labels);
}

serveWorker(print);

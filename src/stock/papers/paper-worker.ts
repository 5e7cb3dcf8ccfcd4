// Sets the papers of orders in a thread of its own; see papers.ts.
import { serveWorker } from '../../platform/workers/serve.ts';
import { type Paper, paperPdf } from './papers-pdf.ts';

async function* set(paper: Paper): AsyncGenerator<Uint8Array> {
  yield await paperPdf(paper);
}

serveWorker(set);

// Draws corner cards in a thread of its own; see printing.ts.
import { serveWorker } from '../../platform/workers/serve.ts';
import { type CardsToPrint, cardsPdf } from './cards-pdf.ts';

async function* print(cards: CardsToPrint): AsyncGenerator<Uint8Array> {
  yield await cardsPdf(cards);
}

serveWorker(print);

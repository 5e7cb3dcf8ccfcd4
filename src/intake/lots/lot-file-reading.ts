import { asideReader } from '../file/file-reading.ts';
import type { StockContext } from './lot-context.ts';
import type { ParsedLots } from './parse-lots.ts';

/** Reads a file of stock beside all else (`parseLots`), in a thread of its own. @throws Refusal when it is no table */
export const readLotsAside = asideReader<StockContext, ParsedLots>(
  new URL('./parse-worker.ts', import.meta.url),
);

// Reads files of stock in a thread of its own; see lot-file-reading.ts.
import { serveFileReading } from '../file/serve-reading.ts';
import { parseLots } from './parse-lots.ts';

serveFileReading(parseLots);

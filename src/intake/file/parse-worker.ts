// Reads files of readings in a thread of its own; see file-reading.ts.
import { parseFile } from './parse-file.ts';
import { serveFileReading } from './serve-reading.ts';

serveFileReading(parseFile);

// Reads files of doses, water changes, feedings and services in a thread of its own; see log-file-reading.ts.
import { serveFileReading } from '../file/serve-reading.ts';
import { parseLog } from './parse-log.ts';

serveFileReading(parseLog);

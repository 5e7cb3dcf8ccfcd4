import { asideReader } from '../file/file-reading.ts';
import type { LogContext } from './log-reader.rules.ts';
import type { ParsedLog } from './parse-log.ts';

/** Reads a file of what was done beside all else (`parseLog`), in a thread of its own. @throws Refusal when it is no table */
export const readLogAside = asideReader<LogContext, ParsedLog>(new URL('./parse-worker.ts', import.meta.url));

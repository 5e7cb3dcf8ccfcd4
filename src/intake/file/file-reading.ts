import { workerPool } from '../../platform/workers/pool.ts';
import type { FarmContext } from './farm-context.ts';
import type { ParsedFile } from './parse-file.ts';
import type { Answers } from './questions.rules.ts';

/** What a worker needs to read a file. */
export interface FileToRead {
  farm: FarmContext;
  content: Uint8Array;
  answers: Answers;
}

/** A part of what it found. */
export type FilePart =
  | Pick<ParsedFile, 'rows'>
  | Pick<ParsedFile, 'lines'>
  | { rest: Omit<ParsedFile, 'rows' | 'lines'> };

/** Own choices: 100,000 readings take some seconds and 200 MB on a slow machine. */
const readInWorker = workerPool<FileToRead, FilePart>(new URL('./parse-worker.ts', import.meta.url), {
  atOnce: 2,
  longestMs: 120_000,
  memoryMb: 768,
  tooMuch: 'This file takes too long to read. Bring it in parts.',
});

/** Reads a file beside all else (`parseFile`), in a thread of its own. @throws Refusal when the file is no table */
export async function readFileAside(
  farm: FarmContext,
  content: Uint8Array,
  answers: Answers,
): Promise<ParsedFile> {
  const [rows, lines]: [ParsedFile['rows'], ParsedFile['lines']] = [[], []];
  let rest: Omit<ParsedFile, 'rows' | 'lines'> | null = null;
  await readInWorker({ farm, content, answers }, (part) => {
    if ('rows' in part) rows.push(...part.rows);
    else if ('lines' in part) lines.push(...part.lines);
    else rest = part.rest;
  });
  if (rest === null) throw new Error('a file was read without a result');
  return { ...(rest as Omit<ParsedFile, 'rows' | 'lines'>), rows, lines };
}

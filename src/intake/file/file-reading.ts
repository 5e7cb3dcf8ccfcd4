import { workerPool } from '../../platform/workers/pool.ts';
import type { FarmContext } from './farm-context.ts';
import type { ParsedFile } from './parse-file.ts';
import type { Answers } from './questions.rules.ts';

/** What a worker needs to read a file. */
export interface FileToRead<Farm> {
  farm: Farm;
  content: Uint8Array;
  answers: Answers;
}

/** A file as it was read, whatever its rows are. */
export interface ReadFile {
  rows: string[][];
  lines: unknown[];
}

/** A part of what a worker found. */
export type FilePart = { rows: string[][] } | { lines: unknown[] } | { rest: object };

/** Own choices: 100,000 readings take some seconds and 200 MB on a slow machine. */
const bounds = {
  atOnce: 2,
  longestMs: 120_000,
  memoryMb: 768,
  tooMuch: 'This file takes too long to read. Upload it in parts.',
};

/**
 * Reads files beside all else, in threads of their own that serve `worker` (by `serveFileReading`).
 * @returns a function that reads one; it throws a Refusal when the file is no table
 */
export function asideReader<Farm, Parsed extends ReadFile>(worker: URL) {
  const readInWorker = workerPool<FileToRead<Farm>, FilePart>(worker, bounds);
  return async (farm: Farm, content: Uint8Array, answers: Answers): Promise<Parsed> => {
    const [rows, lines]: [string[][], unknown[]] = [[], []];
    let rest: object | null = null;
    await readInWorker({ farm, content, answers }, (part) => {
      if ('rows' in part) rows.push(...part.rows);
      else if ('lines' in part) lines.push(...part.lines);
      else rest = part.rest;
    });
    if (rest === null) throw new Error('a file was read without a result');
    return { ...(rest as object), rows, lines } as Parsed;
  };
}

/** Reads a file of readings beside all else (`parseFile`). @throws Refusal when the file is no table */
export const readFileAside = asideReader<FarmContext, ParsedFile>(
  new URL('./parse-worker.ts', import.meta.url),
);

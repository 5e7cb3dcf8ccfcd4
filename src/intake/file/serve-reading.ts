import { serveWorker } from '../../platform/workers/serve.ts';
import type { FilePart, FileToRead, ReadFile } from './file-reading.ts';
import type { Answers } from './questions.rules.ts';

/** Lines or rows in one part of the result: few enough that taking one holds nobody up (own choice). */
const atOnce = 500;

/** Serves the reading of files in a thread of its own: what `parse` finds goes back part by part. */
export function serveFileReading<Farm, Parsed extends ReadFile>(
  parse: (farm: Farm, content: Uint8Array, answers: Answers) => Promise<Parsed>,
): void {
  serveWorker(async function* ({ farm, content, answers }: FileToRead<Farm>): AsyncGenerator<FilePart> {
    const { rows, lines, ...rest } = await parse(farm, content, answers);
    for (let at = 0; at < rows.length; at += atOnce) yield { rows: rows.slice(at, at + atOnce) };
    for (let at = 0; at < lines.length; at += atOnce) yield { lines: lines.slice(at, at + atOnce) };
    yield { rest };
  });
}

// Reads files in a thread of its own; see file-reading.ts.
import { serveWorker } from '../../platform/workers/serve.ts';
import type { FilePart, FileToRead } from './file-reading.ts';
import { parseFile } from './parse-file.ts';

/** Lines or rows in one part of the result: few enough that taking one holds nobody up (own choice). */
const atOnce = 500;

async function* read({ farm, content, answers }: FileToRead): AsyncGenerator<FilePart> {
  const { rows, lines, ...rest } = await parseFile(farm, content, answers);
  for (let at = 0; at < rows.length; at += atOnce) yield { rows: rows.slice(at, at + atOnce) };
  for (let at = 0; at < lines.length; at += atOnce) yield { lines: lines.slice(at, at + atOnce) };
  yield { rest };
}

serveWorker(read);

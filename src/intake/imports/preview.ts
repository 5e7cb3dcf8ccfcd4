import type pg from 'pg';
import type { FarmContext } from '../file/farm-context.ts';
import { readFileAside } from '../file/file-reading.ts';
import type { ParsedFile } from '../file/parse-file.ts';
import type { Answers } from '../file/questions.rules.ts';
import { markDuplicates } from './duplicates.ts';

/** True when every question is answered, so that the file can be accepted. */
export const isFullyAnswered = ({ questions, fault }: Pick<ParsedFile, 'questions' | 'fault'>): boolean =>
  fault === null && questions.every((question) => question.answer !== '');

/** Reads a file as it would be taken, and leaves out what is there already. @throws Refusal when the file is no table */
export async function previewFile(
  pool: pg.Pool,
  farm: FarmContext,
  content: Uint8Array,
  answers: Answers,
): Promise<ParsedFile> {
  const preview = await readFileAside(farm, content, answers);
  await markDuplicates(pool, preview.lines);
  return preview;
}

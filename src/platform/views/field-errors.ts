import type { z } from 'zod';
import { andWords } from '../words/lists.ts';
import type { FieldError } from './page.ts';

/** What zod refused, one line a field. */
export function fieldErrors(error: z.ZodError): FieldError[] {
  const seen = new Set<string>();
  return error.issues
    .map((issue) => ({ field: issue.path.join('.'), message: wordsOf(issue) }))
    .filter(({ field }) => !seen.has(field) && seen.add(field));
}

const wordsOf = (issue: z.core.$ZodIssue): string =>
  issue.code === 'unrecognized_keys'
    ? `Leave out ${andWords(issue.keys.map((key) => `“${key}”`))}: nothing here has that name.`
    : issue.message;

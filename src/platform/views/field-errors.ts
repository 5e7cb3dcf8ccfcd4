import type { z } from 'zod';
import type { FieldError } from './page.ts';

/** What zod refused, one line a field. */
export function fieldErrors(error: z.ZodError): FieldError[] {
  const seen = new Set<string>();
  return error.issues
    .map((issue) => ({ field: issue.path.join('.'), message: issue.message }))
    .filter(({ field }) => !seen.has(field) && seen.add(field));
}

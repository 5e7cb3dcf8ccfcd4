import type { z } from 'zod';
import { Refusal } from '../refusal.ts';
import { fieldErrors } from './forms.ts';

/** What a JSON request (its body, or its query) says by the schema. @throws Refusal 422 naming every refused field */
export function checked<S extends z.ZodType>(schema: S, said: unknown): z.output<S> {
  const parsed = schema.safeParse(said ?? {});
  if (parsed.success) return parsed.data;
  const fields = fieldErrors(parsed.error);
  throw new Refusal(fields[0]?.message ?? 'That was not understood.', { fields });
}

import type { z } from 'zod';
import { Refusal } from '../refusal.ts';
import { seenIn } from '../seen.ts';
import { fieldErrors } from '../views/field-errors.ts';

/** What a JSON request (its body, or its query) says by the schema. @throws Refusal 422 naming every refused field */
export function checked<S extends z.ZodType>(schema: S, said: unknown): z.output<S> {
  const parsed = schema.safeParse(said ?? {});
  if (parsed.success) return parsed.data;
  const fields = fieldErrors(parsed.error);
  if (fields.some(({ field }) => field === 'version') && !has(said, 'version')) throw unread('version');
  throw new Refusal(fields[0]?.message ?? 'That was not understood.', { fields });
}

const has = (said: unknown, name: string) => typeof said === 'object' && said !== null && name in said;

/** 428 as RFC 6585, 3 has it: who changes something unread might overwrite what somebody else set meanwhile. */
const unread = (field: 'version' | 'seen') =>
  new Refusal(
    `Read what you change first, and send its "${field}" along: what somebody else changed meanwhile is not overwritten unseen. Nothing was changed.`,
    { status: 428, field },
  );

/** What a program read before it changes something that no version is counted of. @throws Refusal 428 where it does not say */
export function requiredSeen(body: unknown): string {
  const seen = seenIn(body);
  if (seen === '') throw unread('seen');
  return seen;
}

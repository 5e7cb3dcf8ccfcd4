import type { FastifyReply } from 'fastify';
import type { FormState } from './forms.ts';

/** A refused form, and what stands there now when somebody else was quicker (null otherwise). */
export interface Mended {
  form: FormState;
  theirs: string | null;
}

/**
 * After a stale edit: keeps what was typed, takes over the version that is there now so that saving again is a
 * decision and not a dead end, and says what the other person left.
 */
export function afterStale(
  form: FormState,
  reply: FastifyReply,
  current: Record<string, string | number>,
  said: string,
): Mended {
  const stale = reply.statusCode === 409 && form.errors.some((error) => error.field === '');
  if (!stale) return { form, theirs: null };
  const renewed = Object.fromEntries(Object.entries(current).map(([name, value]) => [name, String(value)]));
  return { form: { ...form, typed: { ...form.typed, ...renewed } }, theirs: said };
}

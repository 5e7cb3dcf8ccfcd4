import type { FastifyRequest } from 'fastify';
import type { Kept } from '../platform/web/kept-forms.ts';

const words: Record<Kept, string> = {
  form: 'Your sign-in ended before this was saved. What you typed is kept for an hour and comes back once you are signed in.',
  file: 'Your sign-in ended before this was saved. A file you sent is not kept: choose it again once you are signed in.',
  secret:
    'Your sign-in ended before this was saved. A form with a password or a PIN is not kept: fill it in again once you are signed in.',
  nothing:
    'Your sign-in ended before this was saved, and what you sent could not be kept. Go back with your browser to copy it, then sign in.',
};

/** What became of the form that led to a sign-in; null where none did. */
export function keptWords(request: FastifyRequest): string | null {
  const { kept } = request.query as { kept?: unknown };
  return typeof kept === 'string' && Object.hasOwn(words, kept) ? words[kept as Kept] : null;
}

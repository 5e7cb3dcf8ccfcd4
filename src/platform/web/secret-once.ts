import type { FastifyRequest } from 'fastify';
import type { Work } from '../change.ts';
import { Refusal } from '../refusal.ts';

/**
 * Makes a change that gives a secret. The secret is in the answer and is not kept with the request's key, so that the same
 * request again does not give it again.
 * @throws Refusal 409 where the request was made before
 */
export async function changeForSecret(
  request: FastifyRequest,
  act: (work: Work) => Promise<{ id: string; secret: string }>,
): Promise<{ id: string; secret: string }> {
  let shown: string | null = null;
  const id = await request.change(async (work) => {
    const made = await act(work);
    shown = made.secret;
    return made.id;
  });
  if (shown === null)
    throw new Refusal(
      'This was made already, and its secret was shown then. Where nobody has it, end it and make another.',
      { status: 409 },
    );
  return { id, secret: shown };
}

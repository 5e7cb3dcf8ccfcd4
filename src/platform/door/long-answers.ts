import { Readable } from 'node:stream';
import type { FastifyReply } from 'fastify';
import { farmWords } from '../units/reader-words.ts';
import { yieldLoop } from '../yield-loop.ts';

/** Objects of a piece that are made text at a time: a few milliseconds (own choice). */
const textAtOnce = 100;

/**
 * Answers with an object whose last field is a list that comes in pieces. A list of one piece is answered as any other
 * object, with its tag; a longer one is sent as it is read, so that it is nowhere whole and holds nobody up.
 */
export async function sendLong(
  reply: FastifyReply,
  head: object,
  name: string,
  pieces: AsyncGenerator<readonly object[]>,
): Promise<FastifyReply> {
  const first = await pieces.next();
  const second = first.done === true ? first : await pieces.next();
  if (second.done === true) return reply.send({ ...head, [name]: first.done === true ? [] : first.value });
  const before = [first.value as readonly object[], second.value];
  return reply
    .type('application/json; charset=utf-8')
    .header('cache-control', 'private, no-cache')
    .send(Readable.from(textOf(head, name, before, pieces)));
}

async function* textOf(
  head: object,
  name: string,
  before: readonly (readonly object[])[],
  pieces: AsyncGenerator<readonly object[]>,
): AsyncGenerator<string> {
  const opened = JSON.stringify({ ...head, [name]: [] }).slice(0, -2);
  yield farmWords(opened);
  let between = '';
  const breathe = yieldLoop();
  for await (const piece of allOf(before, pieces))
    for (let at = 0; at < piece.length; at += textAtOnce) {
      const text = JSON.stringify(piece.slice(at, at + textAtOnce)).slice(1, -1);
      yield `${between}${farmWords(text)}`;
      between = ',';
      await breathe();
    }
  yield ']}';
}

async function* allOf<T>(before: readonly T[], more: AsyncGenerator<T>): AsyncGenerator<T> {
  yield* before;
  yield* more;
}

import { Readable } from 'node:stream';
import type { FastifyReply } from 'fastify';
import { farmWords } from '../units/reader-words.ts';

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
  const inText = (piece: readonly object[]) => farmWords(JSON.stringify(piece).slice(1, -1));
  yield farmWords(opened);
  let between = '';
  for (const piece of before) {
    yield `${between}${inText(piece)}`;
    between = ',';
  }
  for await (const piece of pieces) yield `,${inText(piece)}`;
  yield ']}';
}

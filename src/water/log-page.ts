import type { FastifyRequest } from 'fastify';
import { numberWords } from '../platform/words.ts';
import type { LogQuestion } from './log.ts';

const perPage = 50;

/** One page of a log, newest first, and the way to the others. */
export interface LogPage<T> {
  entries: T[];
  pager: { newer: string; older: string; text: string };
}

/** The page of a log that the address asks for ("?page=2"); `list` is asked for one entry more, which tells whether there are older ones. */
export async function logPage<T>(
  request: FastifyRequest,
  systemId: string,
  list: (question: LogQuestion) => Promise<T[]>,
): Promise<LogPage<T>> {
  const { page: asked = '' } = request.query as { page?: string };
  const page = /^[1-9]\d{0,4}$/.test(asked) ? Number(asked) : 1;
  const offset = (page - 1) * perPage;
  const found = await list({ systemId, withVoided: true, limit: perPage + 1, offset });
  const entries = found.slice(0, perPage);
  const address = (to: number) => `?page=${to}`;
  return {
    entries,
    pager: {
      newer: page > 1 ? address(page - 1) : '',
      older: found.length > perPage ? address(page + 1) : '',
      text:
        entries.length === 0 ? '' : `${numberWords(offset + 1)} to ${numberWords(offset + entries.length)}`,
    },
  };
}

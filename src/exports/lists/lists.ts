import type { FastifyRequest } from 'fastify';
import { notFound, Refusal } from '../../platform/refusal.ts';
import { may } from '../../platform/web/access.ts';
import { farmLists } from './farm-lists.ts';
import type { ExportedList } from './list.ts';
import { stockLists } from './stock-lists.ts';
import { waterLists } from './water-lists.ts';
import { workLists } from './work-lists.ts';

/** Every list that goes out, as its page shows them. */
export const listGroups: readonly { title: string; lists: readonly ExportedList[] }[] = [
  { title: 'Stock', lists: stockLists },
  { title: 'Water', lists: waterLists },
  { title: 'Farm', lists: farmLists },
  { title: 'Rounds, alerts, tags and people', lists: workLists },
];

/** All of them. */
export const allLists: readonly ExportedList[] = listGroups.flatMap(({ lists }) => lists);

const bySlug = new Map(allLists.map((list) => [list.slug, list] as const));

/** The list that an address names. @throws Refusal 404 where there is none */
export function namedList(request: FastifyRequest): ExportedList {
  const list = bySlug.get((request.params as { list: string }).list);
  if (list === undefined) throw notFound('This list');
  return list;
}

/** @throws Refusal 403 where whoever asks may not read the list */
export function mayRead({ person, machine }: FastifyRequest, list: ExportedList): void {
  if (!may(person.role, list.access))
    throw new Refusal('Ask a manager or the owner for this list: your account may not see it.', {
      status: 403,
    });
  if (machine !== null && list.closedToKeys === true)
    throw new Refusal('No access key opens this list: it names the accounts. Sign in to read it.', {
      status: 403,
    });
}

/** The lists that whoever asks may read. */
export const readableLists = ({ person, machine }: FastifyRequest): readonly ExportedList[] =>
  allLists.filter(
    ({ access, closedToKeys = false }) => may(person.role, access) && !(machine !== null && closedToKeys),
  );

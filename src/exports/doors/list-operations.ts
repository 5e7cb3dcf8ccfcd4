import { doorPath } from '../../platform/door/addresses.ts';
import { sampleSite, sampleTime } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { capitalized } from '../../platform/words/capitals.ts';
import type { ColumnType, ExportedList } from '../lists/list.ts';
import { allLists } from '../lists/lists.ts';
import type { JsonSchema } from './body-schemas.ts';
import { accessWords, inOrder, type KeyScope, type Operation } from './document.ts';
import { pageParameters, problem, responses } from './parts.ts';

const typeSchemas: Record<ColumnType['type'], JsonSchema> = {
  text: { type: ['string', 'null'] },
  number: { type: ['number', 'null'] },
  time: { type: ['string', 'null'], format: 'date-time' },
  'yes or no': { type: ['string', 'null'], enum: ['yes', 'no', null] },
};

/** One operation for each list, with the columns of its rows. */
export async function listOperations(service: Service, keyScope: KeyScope): Promise<Operation[]> {
  const ask = { service, site: sampleSite, now: sampleTime };
  const scope = keyScope('GET /api/lists/:list');
  const all: Operation[] = [];
  for (const list of allLists)
    all.push(operationOf(list, await list.columns(ask), list.closedToKeys === true ? null : scope));
  return inOrder(all);
}

function operationOf(list: ExportedList, columns: readonly ColumnType[], scope: string | null): Operation {
  const path = `${doorPath}/lists/${list.slug}`;
  const summary = `${list.title}, page by page. ${list.what}`;
  const row = {
    type: 'object',
    properties: Object.fromEntries(columns.map(({ name, type }) => [name, typeSchemas[type]])),
  };
  const answer = {
    type: 'object',
    required: ['list', 'rows', 'next'],
    properties: {
      list: { type: 'string' },
      rows: { type: 'array', items: { ...row, required: columns.map(({ name }) => name) } },
      next: { type: ['string', 'null'], description: 'The cursor of the next page; null at the end.' },
    },
  };
  const words = list.slug.split('-').map((word) => capitalized(word));
  const operation = {
    operationId: `getLists${words.join('')}`,
    summary,
    description: accessWords(list.access, scope),
    tags: ['lists'],
    parameters: pageParameters,
    responses: {
      ...responses('read', answer),
      409: problem('The row behind which the page begins has gone.'),
      422: problem('The limit or the cursor was refused.'),
    },
    'x-role': list.access,
    ...(scope === null ? { security: [{ session: [] }] } : { 'x-scope': scope }),
  };
  return { method: 'get', path, group: 'lists', summary, role: list.access, scope, schema: row, operation };
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { doorPath } from '../../platform/door/addresses.ts';
import { answers } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { checked } from '../../platform/web/json.ts';
import { type ListPage, wrongCursor } from './list.ts';
import { mayRead, namedList, readableLists } from './lists.ts';

const listsAnswer = z.object({
  lists: z.array(z.object({ list: z.string(), title: z.string(), what: z.string(), address: z.string() })),
});

/** A row has what the columns of its list name; a list’s CSV file has the same. */
const rowsAnswer = z.object({
  list: z.string(),
  rows: z.array(z.record(z.string(), z.union([z.string(), z.number()]).nullable())),
  next: z.string().nullable().describe('The cursor of the next page; null at the end.'),
});

/** Every list for programs: as JSON, page by page. */
export function listApi(app: FastifyInstance, service: Service): void {
  app.get('/api/lists', answers(listsAnswer), async (request) => ({
    lists: readableLists(request).map(({ slug, title, what }) => ({
      ...{ list: slug, title, what },
      address: addressOf(slug),
    })),
  }));
  app.get('/api/lists/:list', answers(rowsAnswer), (request, reply) => getRows(service, request, reply));
}

const addressOf = (slug: string) => `${doorPath}/lists/${slug}`;

/** Rows of one answer at most, and where nothing is asked (own choices). */
export const mostRows = 500;
export const usualRows = 100;

const howMany = `Ask for 1 to ${mostRows} rows.`;

const pageQuery = z.strictObject({
  limit: z.coerce.number(howMany).int(howMany).min(1, howMany).max(mostRows, howMany).default(usualRows),
  cursor: z.string('Send one cursor.').optional(),
});

async function getRows(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const list = namedList(request);
  mayRead(request, list);
  const { limit, cursor } = checked(pageQuery, request.query);
  const ask = { service, site: request.site, now: service.now() };
  const after = cursor === undefined ? null : placeIn(cursor, list.slug);
  const page = await list.page(ask, { after, limit }).catch((error: unknown) => {
    // A place that PostgreSQL cannot read (class 22, data exception).
    if (after !== null && /^22/.test(String((error as { code?: unknown }).code))) throw wrongCursor();
    throw error;
  });
  const next = page.next === null ? null : cursorOf(page.next, list.slug);
  if (next !== null) {
    const query = new URLSearchParams({ limit: String(limit), cursor: next });
    reply.header('link', `<${addressOf(list.slug)}?${query}>; rel="next"`);
  }
  return { list: list.slug, rows: rowsOf(page), next };
}

const rowsOf = ({ columns, rows }: ListPage) =>
  rows.map((cells) => Object.fromEntries(columns.map(({ name }, i) => [name, cells[i] ?? null])));

const cursorOf = (place: string, slug: string): string =>
  Buffer.from(JSON.stringify([slug, place])).toString('base64url');

const kept = z.tuple([z.string(), z.string()]);

/** @throws Refusal 422 for what is no cursor of this list */
function placeIn(cursor: string, slug: string): string {
  try {
    const [of, place] = kept.parse(JSON.parse(Buffer.from(cursor, 'base64url').toString()));
    if (of === slug) return place;
  } catch {
    // Said below.
  }
  throw wrongCursor();
}

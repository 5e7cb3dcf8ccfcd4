import { Readable } from 'node:stream';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../platform/service.ts';
import { showPage } from '../platform/web/pages.ts';
import { tellDetail } from './details.rules.ts';
import { cursorOf, cursorText, type Filters, filterSchema, questionOf } from './journal.schema.ts';
import { type JournalLine, journalAuthors, journalLines, namesIn } from './journal.ts';
import { journalCsv } from './journal-csv.ts';
import { kindWords } from './kind-words.ts';
import { type NamedSubject, namesOf, subjects, subjectsNamed } from './subjects.ts';

/** The journal: who changed what when, by person, subject and time; as a page and as a file. */
export function journalPages(app: FastifyInstance, service: Service): void {
  app.get('/journal', (request, reply) => showJournal(service, request, reply));
  app.get('/journal.csv', (request, reply) => sendCsv(service, request, reply));
}

/** About four screens of a phone; own choice. */
const perPage = 36;

const filtersOf = (request: FastifyRequest): Filters => filterSchema.parse(request.query);

async function questionFrom(service: Service, request: FastifyRequest, filters: Filters) {
  const found = filters.named === '' ? null : await subjectsNamed(service.pool, filters.named);
  return questionOf(filters, found, request.site);
}

async function showJournal(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const filters = filtersOf(request);
  const question = await questionFrom(service, request, filters);
  const [found, authors, asked] = await Promise.all([
    journalLines(service.pool, question, cursorOf(filters.before), perPage + 1),
    journalAuthors(service.pool),
    filters.subject === '' ? null : namesOf(service.pool, [filters.subject]),
  ]);
  const lines = found.slice(0, perPage);
  const names = await namesIn(service.pool, lines);
  const words = { timeZone: request.site.timeZone, now: service.now() };
  const last = lines.at(-1);
  const data = {
    filters,
    subject:
      asked === null ? null : (asked.get(filters.subject) ?? { name: 'something that is gone', href: null }),
    lines: lines.map((line) => rowOf(line, names, words)),
    by: [
      ...authors.map(({ id, name, isInstrument }) => ({
        value: id,
        text: isInstrument ? `${name} (access key)` : name,
      })),
      { value: 'itself', text: 'Evenwater itself' },
    ],
    about: Object.entries(subjects).map(([value, { many }]) => ({ value, text: many })),
    isFiltered: Object.values({ ...filters, before: '' }).some((value) => value !== ''),
    file: `/journal.csv${addressOf({ ...filters, before: '' })}`,
    newest: filters.before === '' ? '' : `/journal${addressOf({ ...filters, before: '' })}`,
    older:
      found.length > perPage && last !== undefined
        ? `/journal${addressOf({ ...filters, before: cursorText(last) })}`
        : '',
  };
  return showPage(service, request, reply, 'journal/journal', data, { title: 'Journal' });
}

function rowOf(
  line: JournalLine,
  names: ReadonlyMap<string, NamedSubject>,
  words: { timeZone: string; now: Date },
) {
  const subject = names.get(line.subjectId) ?? null;
  return {
    at: line.at,
    by: line.by ?? 'Evenwater itself',
    what: kindWords[line.kind] ?? line.kind,
    subject,
    subjectId: line.subjectId,
    told: tellDetail(line.detail, { ...words, nameOf: (id) => names.get(id)?.name ?? null }),
  };
}

/** "?by=..." of what is filtered; empty where nothing is. */
function addressOf(filters: Filters): string {
  const query = new URLSearchParams(Object.entries(filters).filter(([, value]) => value !== '')).toString();
  return query === '' ? '' : `?${query}`;
}

async function sendCsv(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const question = await questionFrom(service, request, filtersOf(request));
  const words = { timeZone: request.site.timeZone, now: service.now() };
  return reply
    .type('text/csv; charset=utf-8')
    .header('content-disposition', 'attachment; filename="journal.csv"')
    .header('cache-control', 'no-store')
    .send(Readable.from(journalCsv(service.pool, question, words)));
}

import { setImmediate as breathe } from 'node:timers/promises';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { id, moment } from '../../platform/door/answer-parts.ts';
import { answers, asks } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { takeTurns } from '../../platform/turns.ts';
import type { PageData } from '../../platform/views/page.ts';
import { scriptMark } from '../../platform/web/assets.ts';
import { checked } from '../../platform/web/json.ts';
import { pageData } from '../../platform/web/pages.ts';
import { rackStateOf } from '../round/progress.rules.ts';
import { refusedEntries } from '../round/refused-entries.rules.ts';
import { type RoundSheet, readSheet } from '../round/round-sheet.ts';
import { latestEntry } from '../round/saved-entries.ts';
import { oneAnswer, type ScreenPlace, screenPlaces, screensAt } from './screen-list.ts';
import { roundHere, screenData } from './screens.pages.ts';
import { headOf, rackPath, waterAfter } from './screens.ts';

/**
 * So many rounds are drawn at the same time (own choice), so that what many tablets note does not wait behind what they look
 * at; and how long a tablet waits for its turn, ms, before it asks again later.
 */
const [atOnce, patienceMs] = [2, 15_000];

/** A round for a tablet that may lose the network: how far it is, and its screens as they stand, some at a time. */
export function screenApi(app: FastifyInstance, service: Service): void {
  const drawing = takeTurns(atOnce, patienceMs);
  app.get('/api/rounds/:id', asks(roundQuery, roundAnswer), (request, reply) =>
    drawing(() => getRound(service, request, reply)),
  );
  app.get('/api/rounds/:id/latest', answers(latestAnswer), (request, reply) =>
    getLatest(service, request, reply),
  );
}

const latestAnswer = z.object({ latest: z.string() });

const roundAnswer = latestAnswer.extend({
  id,
  drawnAt: moment,
  script: z
    .string()
    .describe('A mark of the program that shows a round on a tablet; where it changes, load the page anew.'),
  person: z.object({ id, name: z.string() }),
  csrf: z.string(),
  racks: z.array(
    z.object({
      id,
      water: z.string().nullable(),
      path: z.string(),
      looked: z.boolean(),
      pass: z.string().nullable(),
    }),
  ),
  refused: z.array(z.string()),
  off: z.array(z.string()),
  news: z.string().describe('What every screen says on top: what is off, what wants testing again.'),
  screens: z
    .array(z.object({ path: z.string(), mark: z.string() }))
    .describe('All screens in walking order, each with a mark that changes when what it shows does.'),
  pages: z
    .record(z.string(), z.object({ title: z.string(), html: z.string() }))
    .describe('Screens by their address: those of this page of the answer.'),
  next: z.string().nullable().describe('The cursor of the next page; null at the end.'),
});

/** So many screens can be asked for by their address at once (own choice: the address of the request stays short). */
const mostDrawn = 8;
const howMany = `Ask for at most ${mostDrawn} screens, each by its address.`;

const roundQuery = z.object({
  cursor: z.string('Send one cursor.').optional().describe('“next” of the page before, as it is.'),
  draw: z
    .union([z.string().transform((path) => [path]), z.array(z.string()).max(mostDrawn)], howMany)
    .optional()
    .describe('Only the screens of these addresses, as many as one answer holds; no more than eight.'),
});

/** What a tablet asks every half minute: whether anybody noted anything since its copy was drawn. */
async function getLatest(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const round = await roundHere(service, request);
  reply.header('cache-control', 'no-store');
  return { latest: await latestEntry(service.pool, round.id) };
}

async function getRound(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { cursor, draw } = checked(roundQuery, request.query);
  const round = await roundHere(service, request);
  // Asked before the rest is read, so that an entry made meanwhile is news afterwards.
  const latest = await latestEntry(service.pool, round.id);
  const sheet = await readSheet(service.pool, round, request.site.timeZone, service.now());
  const all = screenPlaces(sheet);
  const left =
    draw === undefined
      ? behind(all, cursor)
      : draw.flatMap((path) => all.find((one) => one.path === path) ?? []);
  const drawn = oneAnswer(left);
  const page = pageData(service, request, reply, { title: round.plan.name, area: 'rounds' });
  const last = drawn.at(-1);
  reply.header('cache-control', 'no-store');
  return {
    id: round.id,
    latest,
    drawnAt: sheet.now.toISOString(),
    script: await scriptMark('round.js'),
    person: { id: request.person.id, name: request.person.name },
    csrf: page.csrf,
    racks: racksOf(sheet),
    refused: refusedEntries(sheet.notes).map((note) => note.id),
    off: request.pageContext.switchedOff.map((one) => one.id),
    news: service.views.render('rounds/head-news', { ...headOf(sheet), page }, null),
    screens: all.map(({ path, mark }) => ({ path, mark })),
    pages: await drawPages(service, request, { sheet, page }, drawn),
    next: draw !== undefined || last === undefined || drawn.length === left.length ? null : cursorOf(last),
  };
}

const cursorOf = ({ path }: ScreenPlace): string => Buffer.from(JSON.stringify(path)).toString('base64url');

/** The screens behind the one that a cursor names. @throws Refusal 422 for what is no cursor; 409 where that screen has gone */
function behind(all: readonly ScreenPlace[], cursor: string | undefined): readonly ScreenPlace[] {
  if (cursor === undefined) return all;
  const path = pathIn(cursor);
  const at = all.findIndex((one) => one.path === path);
  if (at === -1)
    throw new Refusal(
      'The screen behind which this page begins has gone. Read the round from its beginning.',
      {
        status: 409,
      },
    );
  return all.slice(at + 1);
}

function pathIn(cursor: string): string {
  try {
    return z.string().parse(JSON.parse(Buffer.from(cursor, 'base64url').toString()));
  } catch {
    throw new Refusal('This is no cursor of a round. Take “next” of the page before as it is.', {
      field: 'cursor',
    });
  }
}

async function drawPages(
  service: Service,
  request: FastifyRequest,
  { sheet, page }: { sheet: RoundSheet; page: PageData },
  drawn: readonly ScreenPlace[],
) {
  const pages: Record<string, { title: string; html: string }> = {};
  for (const [path, screen] of await screensAt(service, sheet, drawn)) {
    const data = { ...screenData(screen, request.person.id), page };
    pages[path] = { title: screen.title, html: service.views.render(screen.view, data, null) };
    await breathe();
  }
  return pages;
}

/** The racks in walking order, and which of them were looked at. */
function racksOf(sheet: RoundSheet) {
  const { round, racks, rackStates } = sheet;
  return racks.map(({ id }) => ({
    id,
    water: waterAfter(sheet, id),
    path: rackPath(round.id, id),
    looked: ['looked', 'left_out'].includes(rackStateOf(rackStates, id).state),
    pass: rackStateOf(rackStates, id).entryId,
  }));
}

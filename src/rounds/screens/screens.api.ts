import { setImmediate as breathe } from 'node:timers/promises';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { id, moment } from '../../platform/door/answer-parts.ts';
import { answers } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { freshForm } from '../../platform/web/forms.ts';
import { pageData } from '../../platform/web/pages.ts';
import { rackStateOf } from '../round/progress.rules.ts';
import { refusedEntries } from '../round/refused-entries.rules.ts';
import { lotsByRack, type RoundSheet } from '../round/round-sheet.ts';
import { latestEntry } from '../round/saved-entries.ts';
import { testRows } from '../round/test-rows.ts';
import { feedingChoices } from '../round/tests-and-feedings.ts';
import { countPath, racksToCount } from './count-rows.ts';
import { countScreen } from './count-screen.ts';
import { endScreen } from './end-screen.ts';
import { roundHere, screenData, sheetOf } from './screens.pages.ts';
import {
  overviewScreen,
  rackPath,
  rackScreen,
  roundPath,
  type Screen,
  systemPath,
  testsPath,
  waterAfter,
} from './screens.ts';
import { systemScreen } from './system-screen.ts';
import { testsScreen } from './tests-screen.ts';

/** A round for a tablet that may lose the network: every screen as it stands, by its address. */
export function screenApi(app: FastifyInstance, service: Service): void {
  app.get('/api/rounds/:id', answers(roundAnswer), (request, reply) => getRound(service, request, reply));
  app.get('/api/rounds/:id/latest', answers(latestAnswer), (request, reply) =>
    getLatest(service, request, reply),
  );
}

const latestAnswer = z.object({ latest: z.string() });

const roundAnswer = latestAnswer.extend({
  id,
  drawnAt: moment,
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
  pages: z.record(z.string(), z.object({ title: z.string(), html: z.string() })),
});

/** What a tablet asks every half minute: whether anybody noted anything since its copy was drawn. */
async function getLatest(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const round = await roundHere(service, request);
  reply.header('cache-control', 'no-store');
  return { latest: await latestEntry(service.pool, round.id) };
}

async function getRound(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const round = await roundHere(service, request);
  // Asked before the rest is read, so that an entry made meanwhile is news afterwards.
  const latest = await latestEntry(service.pool, round.id);
  const sheet = await sheetOf(service, request);
  const screens = await allScreens(service, sheet);
  const page = pageData(service, request, reply, { title: sheet.round.plan.name, area: 'rounds' });
  const pages: Record<string, { title: string; html: string }> = {};
  for (const [path, screen] of screens) {
    const data = { ...screenData(screen, request.person.id), page };
    pages[path] = { title: screen.title, html: service.views.render(screen.view, data, null) };
    await breathe();
  }
  reply.header('cache-control', 'no-store');
  return {
    id: sheet.round.id,
    latest,
    drawnAt: sheet.now.toISOString(),
    person: { id: request.person.id, name: request.person.name },
    csrf: page.csrf,
    racks: racksOf(sheet),
    refused: refusedEntries(sheet.notes).map((note) => note.id),
    off: request.pageContext.switchedOff.map(({ id }) => id),
    pages,
  };
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

async function allScreens(service: Service, sheet: RoundSheet): Promise<[string, Screen][]> {
  const { id } = sheet.round;
  const lots = await lotsByRack(
    service.pool,
    sheet,
    sheet.racks.map((rack) => rack.id),
  );
  const systemIds = sheet.systems.map((system) => system.id);
  const [feeding, tests] = await Promise.all([
    feedingChoices(service.pool, systemIds, sheet.now, sheet.timeZone),
    testRows(service, systemIds, sheet.now, sheet.timeZone),
  ]);
  return [
    [roundPath(id), overviewScreen(sheet)],
    ...sheet.racks.map((rack): [string, Screen] => [
      rackPath(id, rack.id),
      rackScreen(sheet, rack.id, lots.get(rack.id) ?? []),
    ]),
    ...sheet.systems.map((system): [string, Screen] => [
      systemPath(id, system.id),
      systemScreen(sheet, system.id, {
        feeding: feeding(system.id),
        tests: tests(system.id).map(({ name }) => name),
        form: freshForm(),
      }),
    ]),
    ...sheet.systems.map((system): [string, Screen] => [
      testsPath(id, system.id),
      testsScreen(sheet, system.id, tests(system.id), freshForm()),
    ]),
    ...racksToCount(sheet).map((rack): [string, Screen] => [
      countPath(id, rack.id),
      countScreen(sheet, rack.id, freshForm()),
    ]),
    [`${roundPath(id)}/end`, endScreen(sheet)],
  ];
}

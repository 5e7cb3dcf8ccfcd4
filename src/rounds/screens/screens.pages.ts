import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { uuidv7 } from 'uuidv7';
import { z } from 'zod';
import { notFound } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm } from '../../platform/web/forms.ts';
import { type PageOptions, showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { agoWords } from '../../platform/words/times.ts';
import { lotRow } from '../round/lot-rows.rules.ts';
import { rackLots } from '../round/rack-lots.ts';
import { type RoundSheet, readSheet } from '../round/round-sheet.ts';
import { findRound, type RoundWithPlan } from '../round/rounds.ts';
import { testRows } from '../round/test-rows.ts';
import { feedingChoices } from '../round/tests-and-feedings.ts';
import { conditionTiles } from './condition-tiles.ts';
import { countScreen } from './count-screen.ts';
import { endScreen } from './end-screen.ts';
import {
  headOf,
  overviewScreen,
  rackOnRound,
  rackPath,
  rackScreen,
  roundPath,
  type Screen,
} from './screens.ts';
import { systemScreen } from './system-screen.ts';
import { testsScreen } from './tests-screen.ts';

/** The walk itself: its racks one a screen, its systems, its end. */
export function screenPages(app: FastifyInstance, service: Service): void {
  app.get('/rounds/:id', (request, reply) => showOverview(service, request, reply));
  app.get('/rounds/:id/racks/:rackId', (request, reply) => showRack(service, request, reply));
  app.get('/rounds/:id/racks/:rackId/count', (request, reply) => showCount(service, request, reply));
  app.get('/rounds/:id/racks/:rackId/lots/:lotId', (request, reply) => showLot(service, request, reply));
  app.get('/rounds/:id/systems/:systemId', (request, reply) => showSystem(service, request, reply));
  app.get('/rounds/:id/systems/:systemId/tests', (request, reply) => showTests(service, request, reply));
  app.get('/rounds/:id/end', (request, reply) => showEnd(service, request, reply));
}

export const roundId = (request: FastifyRequest) => pathId(request, 'id', 'This round');

/** The round of the address. @throws Refusal 404 */
export async function roundHere(service: Service, request: FastifyRequest): Promise<RoundWithPlan> {
  const round = await findRound(service.db, roundId(request));
  if (round.plan.siteId !== request.site.id) throw notFound('This round');
  return round;
}

/** The round of the address as it stands. @throws Refusal 404 */
export async function sheetOf(service: Service, request: FastifyRequest): Promise<RoundSheet> {
  const round = await roundHere(service, request);
  return readSheet(service.pool, round, request.site.timeZone, service.now());
}

const emptyFeeding = { food: '', amountG: '', pumpsOffMin: '', tankId: '' };

/** What every screen needs besides its own data: who walks, and a key for each form. */
export function screenData(screen: Screen, personId: string): object {
  return { ...screen.data, personId, key: uuidv7(), noting: conditionTiles(), form: freshForm(emptyFeeding) };
}

export function sendScreen(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  screen: Screen,
  form?: FormState,
) {
  const data = screenData(screen, request.person.id);
  const options: PageOptions = {
    title: screen.title,
    area: 'rounds',
    layout: 'round',
    scripts: ['/assets/round.js'],
    ...(form === undefined ? {} : { form }),
  };
  return showPage(service, request, reply, screen.view, data, options);
}

/** The racks and systems of the round; also where a chore of the round that was not taken comes back as typed. */
export async function showOverview(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const sheet = await sheetOf(service, request);
  if (sheet.round.finishedAt !== null && refused === undefined)
    return reply.redirect(`${roundPath(sheet.round.id)}/end`, 303);
  return sendScreen(service, request, reply, overviewScreen(sheet, refused), refused);
}

async function showRack(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const sheet = await sheetOf(service, request);
  const rackId = pathId(request, 'rackId', 'This rack');
  rackOnRound(sheet, rackId);
  const lots = await rackLots(service.pool, [rackId], sheet.round, sheet.now);
  return sendScreen(service, request, reply, rackScreen(sheet, rackId, lots));
}

/** The form on which a rack is counted for a stocktake; also where a count that was not taken is put right. */
export async function showCount(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  rackId: string = pathId(request, 'rackId', 'This rack'),
  refused?: FormState,
) {
  const sheet = await sheetOf(service, request);
  const form = refused ?? freshForm({ mends: mendsOf(request) });
  return sendScreen(service, request, reply, countScreen(sheet, rackId, form), form);
}

/** The page on which one lot is noted without any script; also where a note that was not taken is put right. */
/** The slots of a lot, of which those may be ticked that are empty now; `typed` as the form brought it. */
const slotChoices = (names: string, typed: unknown) => {
  const ticked = [typed ?? ''].flat().join(' ').split(' ');
  return names === '' ? [] : names.split(' ').map((name) => ({ name, chosen: ticked.includes(name) }));
};

export async function showLot(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  address: { rackId: string; lotId: string } = {
    rackId: pathId(request, 'rackId', 'This rack'),
    lotId: pathId(request, 'lotId', 'This lot'),
  },
  refused?: FormState,
) {
  const sheet = await sheetOf(service, request);
  const { round, now, timeZone } = sheet;
  const rack = rackOnRound(sheet, address.rackId);
  const lots = await rackLots(service.pool, [rack.id], round, now);
  const lot = lots.find((one) => one.id === address.lotId);
  if (lot === undefined) throw notFound('This lot, on this rack,');
  const form =
    refused ??
    freshForm({
      state: '',
      grade: '',
      note: '',
      pieces: '',
      pest: '',
      pestCount: '',
      mends: mendsOf(request),
    });
  const row = lotRow(lot, { startedAt: round.startedAt, now }, (at) => agoWords(at, timeZone, now));
  const data = {
    ...headOf(sheet),
    rack,
    lot: row,
    back: rackPath(round.id, rack.id),
    entries: `${roundPath(round.id)}/entries`,
    entryId: form.typed.id ?? form.key,
    choices: conditionTiles(form.typed),
    slots: slotChoices(row.slotNames, form.typed.emptied),
    typed: { note: '', pieces: '', pest: '', pestCount: '', mends: '', ...form.typed },
  };
  return sendScreen(
    service,
    request,
    reply,
    { view: 'rounds/lot', title: `${row.code}: ${rack.name}`, data },
    form,
  );
}

/** The refused note that a visit to the page is to put right. */
function mendsOf(request: FastifyRequest): string {
  const { mends } = request.query as { mends?: unknown };
  return z.uuid().safeParse(mends).data ?? '';
}

export async function showSystem(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  systemId: string = pathId(request, 'systemId', 'This system'),
  refused?: FormState,
) {
  const sheet = await sheetOf(service, request);
  const [feeding, tests] = await Promise.all([
    feedingChoices(service.pool, [systemId], sheet.now, sheet.timeZone),
    testRows(service, [systemId], sheet.now, sheet.timeZone),
  ]);
  const form = refused ?? freshForm();
  form.typed = { ...emptyFeeding, ...form.typed };
  const choices = { feeding: feeding(systemId), tests: tests(systemId).map(({ name }) => name), form };
  return sendScreen(service, request, reply, systemScreen(sheet, systemId, choices), form);
}

/** The tests of a system; also where a reading that was not taken is put right. */
export async function showTests(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  systemId: string = pathId(request, 'systemId', 'This system'),
  refused?: FormState,
) {
  const sheet = await sheetOf(service, request);
  const tests = await testRows(service, [systemId], sheet.now, sheet.timeZone);
  const form = refused ?? freshForm();
  return sendScreen(
    service,
    request,
    reply,
    testsScreen(sheet, systemId, tests(systemId), form),
    atTheTest(form),
  );
}

/** The form with what is wrong with a reading said at its own field. */
function atTheTest(form: FormState): FormState {
  const { quantityCode } = form.typed;
  return { ...form, errors: form.errors.map((error) => ({ ...error, field: `test-${quantityCode}` })) };
}

async function showEnd(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return sendScreen(service, request, reply, endScreen(await sheetOf(service, request)));
}

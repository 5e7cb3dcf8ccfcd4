import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { isManager } from '../../platform/web/access.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { lotsToAsk } from '../places/emptied-slots.ts';
import { firstFreeSlots, listRacks } from '../places/free-slots.ts';
import { type Drift, driftBy, fewestLots } from './drift.rules.ts';
import { countedLots, DRIFT_DAYS } from './drift.ts';
import { stocktakeRoutine } from './due.ts';
import {
  findStocktake,
  listStocktakes,
  lotsOf,
  progressOf,
  racksOf,
  type Stocktake,
  type StocktakeLot,
} from './state.ts';
import { beginSchema, closeSchema, countsIn, routineSchema } from './stocktakes.schema.ts';
import { beginStocktake, closeStocktake, countRack, setStocktakeRoutine } from './stocktakes.ts';
import { countForm, differenceRow, lotLine, rackLine, stocktakeHref } from './stocktakes.words.ts';

/** Counting what stands on racks: begin, count a rack, see what differs, close; how far records drift. */
export function stocktakePages(app: FastifyInstance, service: Service): void {
  app.get('/stock/stocktakes', (request, reply) => showList(service, request, reply));
  app.post('/stock/stocktakes', takes(beginSchema), (request, reply) => postBegin(service, request, reply));
  app.post('/stock/stocktakes/routine', takes(routineSchema), (request, reply) =>
    postRoutine(service, request, reply),
  );
  app.get('/stock/stocktakes/drift', (request, reply) => showDrift(service, request, reply));
  app.get('/stock/stocktakes/:id', (request, reply) => show(service, request, reply));
  app.post('/stock/stocktakes/:id/close', takes(closeSchema), (request, reply) =>
    postClose(service, request, reply),
  );
  app.get('/stock/stocktakes/:id/racks/:rackId', (request, reply) => showRack(service, request, reply));
  app.post('/stock/stocktakes/:id/racks/:rackId', takes(anything), (request, reply) =>
    postRack(service, request, reply),
  );
}

const idOf = (request: FastifyRequest) => pathId(request, 'id', 'This stocktake');
const rackIdOf = (request: FastifyRequest) => pathId(request, 'rackId', 'This rack');

async function showList(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm({ name: '', hidden: 'yes', twoPeople: '', everyDays: '' }),
) {
  const { id: siteId, timeZone } = request.site;
  const [stocktakes, racks, routine] = await Promise.all([
    listStocktakes(service.pool, siteId),
    listRacks(service.pool, siteId),
    stocktakeRoutine(service.pool, siteId),
  ]);
  const typed = { ...form.typed, everyDays: form.typed.everyDays || String(routine?.everyDays ?? '') };
  const data = {
    rows: stocktakes.map((one) => ({ ...one, href: stocktakeHref(one.id) })),
    hasOpen: stocktakes.some(({ closedAt }) => closedAt === null),
    hasClosed: stocktakes.some(({ closedAt }) => closedAt !== null),
    racks: racks.map(({ id, name }) => ({
      id,
      name,
      checked: [form.typed.rackIds ?? []].flat().includes(id),
    })),
    routine:
      routine === null
        ? ''
        : `Every ${plural(routine.everyDays, 'day', 'days')}; the next by ${dateWords(routine.dueAt, timeZone)}.`,
  };
  return showPage(service, request, reply, 'stock/stocktakes', data, {
    title: 'Stocktakes',
    area: 'stock',
    form: { ...form, typed },
  });
}

async function postBegin(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: beginSchema,
    act: (work, input) => beginStocktake(work, request.site.id, input),
    done: ({ id }) => ({ to: stocktakeHref(id), notice: 'The stocktake is open.' }),
    again: (form) => showList(service, request, reply, form),
  });
}

async function postRoutine(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: routineSchema,
    act: (work, { everyDays }) => setStocktakeRoutine(work, request.site.id, everyDays),
    done: () => ({ to: '/stock/stocktakes', notice: 'The routine is kept.' }),
    again: (form) => showList(service, request, reply, form),
  });
}

/** A stocktake with its racks and lots. @throws Refusal 404 */
async function readAll(service: Service, id: string) {
  const stocktake = await findStocktake(service.pool, id);
  const racks = await racksOf(service.pool, id);
  const lots = await lotsOf(
    service.pool,
    stocktake,
    racks.map((rack) => rack.id),
  );
  return { stocktake, racks, lots, onRack: Map.groupBy(lots, ({ rackId }) => rackId) };
}

async function show(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm({ note: '' }),
) {
  const { stocktake, racks, lots, onRack } = await readAll(service, idOf(request));
  const rackOf = new Map(racks.map((rack) => [rack.id, rack]));
  const differing = lots.filter(({ is }) => is.state === 'differs');
  const free = await firstFreeSlots(
    service.pool,
    differing.filter(({ standsHere }) => !standsHere).map(({ rackId }) => rackId),
  );
  const linesIn = (...states: string[]) =>
    lots
      .filter(({ is }) => states.includes(is.state))
      .flatMap((lot) => {
        const rack = rackOf.get(lot.rackId);
        return rack === undefined ? [] : [{ ...lotLine(lot, rack, stocktake), rack: rack.name }];
      });
  const progress = progressOf(lots);
  const data = {
    ...{ stocktake, progress, self: stocktakeHref(stocktake.id) },
    isOpen: stocktake.closedAt === null,
    canClose: stocktake.closedAt === null && isManager(request.person.role),
    racks: racks.map((rack) => rackLine(rack, onRack.get(rack.id) ?? [], stocktake)),
    differences: differing.flatMap((lot) => {
      const rack = rackOf.get(lot.rackId);
      return rack === undefined ? [] : [differenceRow(lot, rack, stocktake, free.get(rack.id))];
    }),
    again: linesIn('again'),
    settled: linesIn('settled'),
    emptied: await emptiedBy(service, stocktake, lots),
    uncounted: linesIn('open'),
    right: progress.right,
  };
  return showPage(service, request, reply, 'stock/stocktake', data, {
    title: stocktake.name,
    area: 'stock',
    form,
  });
}

/** Lots of an open stocktake that have fewer pieces than slots since they were settled. */
async function emptiedBy(service: Service, { closedAt, siteId }: Stocktake, lots: readonly StocktakeLot[]) {
  const lotIds = lots.flatMap(({ lotId, reason }) => (lotId === null || reason === null ? [] : [lotId]));
  return closedAt !== null || lotIds.length === 0 ? [] : lotsToAsk(service.pool, siteId, { lotIds });
}

async function postClose(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = idOf(request);
  return submit(request, reply, {
    schema: closeSchema,
    act: (work, { note }) => closeStocktake(work, id, note),
    done: () => ({ to: stocktakeHref(id), notice: 'The stocktake is closed.' }),
    again: (form) => show(service, request, reply, form),
  });
}

async function showRack(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const { stocktake, racks, onRack } = await readAll(service, idOf(request));
  const at = racks.findIndex(({ id }) => id === rackIdOf(request));
  const rack = racks[at];
  if (rack === undefined || stocktake.closedAt !== null) {
    const [error] = refused?.errors ?? [];
    if (error !== undefined) request.session.set('notice', error.message);
    return reply.redirect(stocktakeHref(stocktake.id), 303);
  }
  const form = refused ?? freshForm();
  const lots = onRack.get(rack.id) ?? [];
  const next = racks[at + 1];
  const data = {
    ...{ stocktake, rack, position: at + 1, of: racks.length },
    up: stocktakeHref(stocktake.id),
    here: `${stocktakeHref(stocktake.id)}/racks/${rack.id}`,
    next: next === undefined ? '' : `${stocktakeHref(stocktake.id)}/racks/${next.id}`,
    nextName: next?.name ?? '',
    ...countForm(lots, rack, stocktake, form),
  };
  return showPage(service, request, reply, 'stock/stocktake-rack', data, {
    title: `${rack.name}: ${stocktake.name}`,
    area: 'stock',
    form,
  });
}

const anything = z.looseObject({});

async function postRack(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const [stocktakeId, rackId] = [idOf(request), rackIdOf(request)];
  const racks = await racksOf(service.pool, stocktakeId);
  const next = racks[racks.findIndex(({ id }) => id === rackId) + 1];
  return submit(request, reply, {
    schema: anything,
    act: (work, fields) => countRack(work, { stocktakeId, rackId, at: work.now }, countsIn(fields)),
    done: ({ rack, countIds }) => ({
      to: next === undefined ? stocktakeHref(stocktakeId) : `${stocktakeHref(stocktakeId)}/racks/${next.id}`,
      notice: `${rack}: ${plural(countIds.length, 'count is', 'counts are')} kept.`,
    }),
    again: (form) => showRack(service, request, reply, form),
  });
}

const percent = (share: number) => numberWords(Math.round(100 * share));

function driftRow({ name, lots, right, interval, recorded, net }: Drift) {
  const share =
    interval === null
      ? `too few to say (fewer than ${fewestLots} lots)`
      : `${percent(right / lots)} % (${percent(interval.low)} to ${percent(interval.high)} %)`;
  return { name, lots, share, recorded, net: net === 0 ? '0' : net > 0 ? `+${net}` : `−${-net}` };
}

async function showDrift(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { id: siteId, timeZone } = request.site;
  const lots = await countedLots(service.pool, siteId, service.now());
  const byDay = [...Map.groupBy(lots, ({ stocktakeId }) => stocktakeId).values()].flatMap((own) =>
    driftBy(own, ({ closedAt }) => dateWords(closedAt, timeZone)),
  );
  const data = {
    days: DRIFT_DAYS,
    counted: lots.length,
    tables: [
      { title: 'Over time', head: 'Closed', rows: byDay.map(driftRow) },
      { title: 'By rack', head: 'Rack', rows: driftBy(lots, ({ rack }) => rack).map(driftRow) },
      { title: 'By kind', head: 'Kind', rows: driftBy(lots, ({ kind }) => kind).map(driftRow) },
    ],
  };
  return showPage(service, request, reply, 'stock/stocktake-drift', data, {
    title: 'How far the records drift',
    area: 'stock',
  });
}

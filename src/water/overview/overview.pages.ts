import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { sparkline } from '../../platform/charts/sparkline.ts';
import type { Service } from '../../platform/service.ts';
import { litres } from '../../platform/units/measures.ts';
import { pagerOf } from '../../platform/views/pager.ts';
import { optionalText, pageNumber } from '../../platform/web/fields.ts';
import { showPage } from '../../platform/web/pages.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { whenWords } from '../../platform/words/times.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { alkalinityConsumption } from '../demand/view.ts';
import { listQuantities, type Quantity, showDifference, unitName } from '../quantities/quantities.ts';
import { type AlertSum, alertSumOf } from '../systems/open-alerts.ts';
import {
  putOffWords,
  type SystemState,
  stateWords,
  untestedBriefly,
  unwatchedWords,
} from '../systems/state.rules.ts';
import { figureOf } from './figure.ts';
import { listSystems, type Overview, readOverview, sparklineDays } from './overview.ts';
import { steadinessWords } from './steadiness.rules.ts';
import { alertsByQuantity, wallTraces } from './wall.ts';
import { WALL_DAYS, wallCodes, wallOf } from './wall-view.ts';

/** All systems at a glance. */
export function waterOverviewPages(app: FastifyInstance, service: Service): void {
  app.get('/water', (request, reply) => showWater(service, request, reply));
}

/** The quantities with a sparkline in the row, and those shown as figures only. */
const chartedCodes = ['alkalinity', 'nitrate'];
const figureCodes = [
  ['calcium', 'magnesium'],
  ['salinity', 'temperature'],
];
const maxAlerts = 3;

/** Systems on a page; own choice. */
const perPage = 12;
/** The wall of charts, or the same with swing, use and alerts in words. */
const views = [
  { show: 'charts', text: 'Charts' },
  { show: 'words', text: 'Swing, use and alerts in words' },
] as const;

const querySchema = z.object({
  q: optionalText(200).catch(''),
  show: z.enum(['charts', 'words']).catch('charts'),
  page: pageNumber(),
});
type Asked = z.output<typeof querySchema>;

function hrefOf({ q, show, page }: Asked): string {
  const query = new URLSearchParams();
  if (show !== 'charts') query.set('show', show);
  if (q !== '') query.set('q', q);
  if (page > 1) query.set('page', String(page));
  return query.size === 0 ? '/water' : `/water?${query}`;
}

type Listed = Awaited<ReturnType<typeof listSystems>>;

async function showWater(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const asked = querySchema.parse(request.query);
  const { q, show, page } = asked;
  const now = service.now();
  const { id: siteId, timeZone } = request.site;
  const clock = { timeZone, now };
  const [quantities, listed, sum] = await Promise.all([
    listQuantities(service.db),
    listSystems(service.pool, { siteId, text: q, page, perPage }),
    alertSumOf(service.pool, siteId, now),
  ]);
  const shown =
    show === 'charts'
      ? await chartsOf(service, listed, quantities, clock)
      : await wordsOf(service, listed, quantities, clock);
  const data = {
    ...shown,
    asked,
    hasSystems: sum.systems > 0,
    isLong: sum.systems > perPage,
    found: q === '' ? '' : `${plural(listed.total, 'system', 'systems')} found`,
    views: views.map((view) => ({
      text: view.text,
      href: hrefOf({ ...asked, show: view.show }),
      current: view.show === show,
    })),
    lead: leadWords(sum, clock),
    pager: pagerOf({ page, perPage, total: listed.total }, (to) => hrefOf({ ...asked, page: to })),
  };
  return showPage(service, request, reply, 'water/water', data, { title: 'Water', area: 'water' });
}

/** The wall of charts. */
async function chartsOf(
  service: Service,
  { systems }: Listed,
  quantities: readonly Quantity[],
  clock: Clock,
) {
  const { pool } = service;
  const span = { from: daysBefore(clock.now, WALL_DAYS), to: clock.now };
  const ids = systems.map(({ id }) => id);
  const [overview, traces, about] = await Promise.all([
    readOverview(service.db, pool, systems, [], clock.now),
    wallTraces(pool, ids, wallCodes, span),
    alertsByQuantity(pool, ids, clock.now),
  ]);
  const columns = wallCodes.flatMap((code) => quantities.filter((quantity) => quantity.code === code));
  const untrusted = (systemId: string, code: string) => untrustedSince(overview, { systemId, code }, clock);
  const wall = wallOf(columns, { overview, traces, about, untrusted, ...span });
  return {
    wallDays: WALL_DAYS,
    wall: {
      ...wall,
      rows: wall.rows.map((row) => {
        const state = overview.states.get(row.id);
        if (state === undefined) return row;
        return { ...row, unwatched: unwatchedWords(state, clock), untested: untestedBriefly(state, clock) };
      }),
    },
  };
}

/** The same in words, with what is used and how steady the levels were. */
async function wordsOf(service: Service, { systems }: Listed, quantities: readonly Quantity[], clock: Clock) {
  const { now } = clock;
  const quantityByCode = (code: string) => quantities.find((quantity) => quantity.code === code);
  const [overview, dailyConsumption] = await Promise.all([
    readOverview(service.db, service.pool, systems, chartedCodes, now),
    alkalinityConsumption(
      service.pool,
      systems.map(({ id }) => id),
      quantityByCode('alkalinity'),
      now,
    ),
  ]);
  const untrusted = (systemId: string, code: string) => untrustedSince(overview, { systemId, code }, clock);
  const rows = systems.map((system) => {
    const latest = overview.latest.get(system.id);
    const alerts = overview.alerts.filter((alert) => alert.systemId === system.id);
    return {
      id: system.id,
      name: system.name,
      volumeL: system.volumeL,
      litres: litres(system.volumeL),
      tanks: system.tanks,
      lines: chartedCodes.flatMap((code) =>
        withQuantity(quantityByCode(code), (quantity) => ({
          ...lineCell(system.id, quantity, overview, now),
          untrusted: untrusted(system.id, code),
          consumption: code === 'alkalinity' ? (dailyConsumption.get(system.id) ?? null) : null,
          demandHref: `/water/systems/${system.id}/demand`,
        })),
      ),
      figures: figureCodes.map((codes) => ({
        label: codes.map((code) => quantityByCode(code)?.name ?? code).join(' · '),
        parts: codes.flatMap((code) =>
          withQuantity(quantityByCode(code), (quantity) =>
            figureOf(quantity, latest?.get(code), untrusted(system.id, code)),
          ),
        ),
      })),
      alerts: alerts.slice(0, maxAlerts),
      state: stateLine(overview.states.get(system.id), clock),
      more: alerts.length > maxAlerts ? `and ${numberWords(alerts.length - maxAlerts)} more` : null,
    };
  });
  const heads = chartedCodes.flatMap((code) =>
    withQuantity(quantityByCode(code), ({ name, displayUnit }) => ({
      name,
      unit: unitName(code, displayUnit),
    })),
  );
  return { rows, heads };
}

function withQuantity<T>(quantity: Quantity | undefined, draw: (quantity: Quantity) => T): T[] {
  return quantity === undefined ? [] : [draw(quantity)];
}

type Clock = { timeZone: string; now: Date };

/** What is to be said beside a system's alerts: put off, not tested; "quiet" where there is nothing at all. */
function stateLine(state: SystemState | undefined, clock: Clock): string {
  return state === undefined ? '' : stateWords({ ...state, alerts: 0 }, clock).words;
}

function leadWords({ systems, withAlerts, unwatched, putOff }: AlertSum, clock: Clock): string {
  const alertWords =
    withAlerts === 0
      ? 'No alert for today.'
      : `${numberWords(withAlerts)} ${withAlerts === 1 ? 'has' : 'have'} alerts for today.`;
  const off = putOffWords(putOff, clock);
  const unseen = unwatched === 0 ? '' : ' The watch did not look at all of them.';
  return `The last tests of ${plural(systems, 'system', 'systems')}. A thick line has an open alert. ${alertWords}${unseen}${off === '' ? '' : ` ${off}.`}`;
}

/** "probe not trusted since 09:00" where a probe of the quantity has no vote; '' where none is doubted. */
function untrustedSince(
  { doubts }: Overview,
  { systemId, code }: { systemId: string; code: string },
  { timeZone, now }: Clock,
): string {
  const [first] = doubts
    .filter((doubt) => doubt.systemId === systemId && doubt.quantityCode === code)
    .sort((a, b) => a.since.getTime() - b.since.getTime());
  return first === undefined ? '' : `probe not trusted since ${whenWords(first.since, timeZone, now)}`;
}

/** The last value with its uncertainty, a sparkline over the band, and how steady the level was. */
function lineCell(
  systemId: string,
  quantity: Quantity,
  { latest, targets, history, events }: Overview,
  now: Date,
) {
  const last = latest.get(systemId)?.get(quantity.code);
  const points = history.filter(
    (point) => point.systemId === systemId && point.quantityCode === quantity.code,
  );
  const target = targets.find((one) => one.systemId === systemId && one.quantityCode === quantity.code);
  const band = target === undefined ? null : { low: target.bandLow, high: target.bandHigh };
  const picture = sparkline({
    points: points.map(({ at, value, trust }) => ({ at, value, open: trust === 'unconfirmed' })),
    from: daysBefore(now, sparklineDays),
    to: now,
    band,
  });
  const retest = last?.trust === 'unconfirmed' ? 'test again' : null;
  return {
    ...figureOf(quantity, last),
    label: `${quantity.name}, ${unitName(quantity.code, quantity.displayUnit)}`,
    uncertainty:
      last === undefined || last.below || last.above
        ? null
        : showDifference(quantity, (last.corrected ?? last).uncertainty, last.value).text,
    picture: points.length > 1 ? picture : null,
    words:
      retest ??
      (last === undefined ? null : steadinessWords(points, events.get(systemId) ?? [], quantity, now)),
    href: `/water/systems/${systemId}?quantity=${quantity.code}`,
  };
}

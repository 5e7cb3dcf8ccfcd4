import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { sparkline } from '../../platform/charts/sparkline.ts';
import type { Service } from '../../platform/service.ts';
import { litres } from '../../platform/units/measures.ts';
import { showPage } from '../../platform/web/pages.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { whenWords } from '../../platform/words/times.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { alkalinityConsumption } from '../demand/view.ts';
import { listQuantities, type Quantity, showDifference, unitName } from '../quantities/quantities.ts';
import { putOffWords, type SystemState, stateWords } from '../systems/state.rules.ts';
import { figureOf } from './figure.ts';
import { type Overview, readOverview, sparklineDays } from './overview.ts';
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

async function showWater(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const now = service.now();
  const clock = { timeZone: request.site.timeZone, now };
  const [quantities, overview] = await Promise.all([
    listQuantities(service.db),
    readOverview(service.db, service.pool, request.site.id, chartedCodes, now),
  ]);
  const untrusted = (systemId: string, code: string) => untrustedSince(overview, { systemId, code }, clock);
  const quantityByCode = (code: string) => quantities.find((quantity) => quantity.code === code);
  const systemIds = overview.systems.map(({ id }) => id);
  const span = { from: daysBefore(now, WALL_DAYS), to: now };
  const [dailyConsumption, traces, about] = await Promise.all([
    alkalinityConsumption(service.pool, systemIds, quantityByCode('alkalinity'), now),
    wallTraces(service.pool, systemIds, wallCodes, span),
    alertsByQuantity(service.pool, systemIds, now),
  ]);
  const columns = wallCodes.flatMap((code) => withQuantity(quantityByCode(code), (quantity) => quantity));
  const wall = wallOf(columns, { overview, traces, about, untrusted, ...span });
  const rows = overview.systems.map((system) => {
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
  const lead = leadWords(overview, clock);
  return showPage(
    service,
    request,
    reply,
    'water/water',
    { rows, heads, lead, wall, wallDays: WALL_DAYS },
    { title: 'Water', area: 'water' },
  );
}

function withQuantity<T>(quantity: Quantity | undefined, draw: (quantity: Quantity) => T): T[] {
  return quantity === undefined ? [] : [draw(quantity)];
}

type Clock = { timeZone: string; now: Date };

/** What is to be said beside a system's alerts: put off, not tested; "quiet" where there is nothing at all. */
function stateLine(state: SystemState | undefined, clock: Clock): string {
  return state === undefined ? '' : stateWords({ ...state, alerts: 0 }, clock).words;
}

function leadWords({ systems, alerts, states }: Overview, clock: Clock): string {
  const systemsWithAlerts = new Set(
    alerts.filter((alert) => alert.severity !== 'watch').map((alert) => alert.systemId),
  ).size;
  const alertWords =
    systemsWithAlerts === 0
      ? 'No alert for today.'
      : `${numberWords(systemsWithAlerts)} ${systemsWithAlerts === 1 ? 'has' : 'have'} alerts for today.`;
  const putOff = [...states.values()]
    .flatMap((state) => state.putOff)
    .sort((a, b) => a.getTime() - b.getTime());
  const off = putOffWords(putOff, clock);
  return `The last tests of ${plural(systems.length, 'system', 'systems')}. A thick line has an open alert. ${alertWords}${off === '' ? '' : ` ${off}.`}`;
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

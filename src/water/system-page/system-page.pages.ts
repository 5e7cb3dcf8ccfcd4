import { Readable } from 'node:stream';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { isBeingJudged } from '../../alerts/gaps/being-judged.ts';
import type { Service } from '../../platform/service.ts';
import { litres } from '../../platform/units/measures.ts';
import { isManager } from '../../platform/web/access.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { capitalized } from '../../platform/words/capitals.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { doseEffectWords, feedingWords, waterChangeWords } from '../log/words.rules.ts';
import { sayReading, unitName } from '../quantities/quantities.ts';
import { readingsCsv } from '../readings/export.csv.ts';
import { sourceName } from '../readings/sources.ts';
import { bucketRow, tableRow } from '../readings/table.ts';
import { type SystemState, stateWords } from '../systems/state.rules.ts';
import { systemStates } from '../systems/state.ts';
import { findWaterSystem, type WaterSystem } from '../systems/systems.ts';
import { repeatAdvice } from '../trust/trust.rules.ts';
import { systemChart } from './chart.ts';
import { grainWords, periodWords } from './chart-words.rules.ts';
import { factsOf } from './facts.ts';
import { readFirstThings } from './first-things.ts';
import { readSystem, type SystemView } from './system-page.ts';

/** One system: a quantity over time with everything that was done, and the same as a table and a file. */
export function systemWaterPages(app: FastifyInstance, service: Service): void {
  app.get('/water/systems/:id', (request, reply) => showSystem(service, request, reply));
  app.get('/water/systems/:id/readings.csv', (request, reply) => sendCsv(service, request, reply));
}

/** The days that can be chosen, and those shown when none are. */
const periods = [7, 30, 90, 365, 1095];
const defaultPeriod = 90;
/** Rows of the table in view at once, and those it holds in all: the file has the rest. */
const openRows = 7;
const maxRows = 400;

interface PeriodQuery {
  quantity?: string;
  days?: string;
}

/** The period asked for, ending now. */
function periodOf(request: FastifyRequest, now: Date) {
  const { quantity = '', days = '' } = request.query as PeriodQuery;
  const period = periods.find((one) => String(one) === days) ?? defaultPeriod;
  return { code: quantity, days: period, from: daysBefore(now, period), to: now };
}

async function showSystem(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const now = service.now();
  const system = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
  const { code, days, from, to } = periodOf(request, now);
  const { timeZone } = request.site;
  const [view, [state], first, beingJudged] = await Promise.all([
    readSystem(service, { systemId: system.id, code, from, to, timeZone }),
    systemStates(service.pool, { systemIds: [system.id] }, now),
    readFirstThings(service.pool, system.id, now),
    isBeingJudged(service.pool, system.id),
  ]);
  const address = (quantity: string, period: number) =>
    `/water/systems/${system.id}?quantity=${quantity}&days=${period}`;
  const { quantity } = view;
  const rows = rowsOf(view);
  const summaries = summaryTables(view, timeZone, now);
  const data = {
    system: { ...system, about: litres(system.volumeL) },
    isManager: isManager(request.person.role),
    quantity: { ...quantity, unit: unitName(quantity.code, quantity.displayUnit) },
    tabs: tabsOf(view, (other) => address(other, days)),
    periods: periods.map((period) => ({
      text: periodWords(period),
      href: address(quantity.code, period),
      here: period === days,
    })),
    period: periodWords(days),
    chart: systemChart(view, { systemName: system.name, from, to, days, timeZone }),
    alerts: view.alerts,
    beingJudged,
    first,
    state: state === undefined ? null : stateSaid(state, { timeZone, now }),
    tanks: view.tanks,
    unconfirmed: unconfirmedOf(view),
    facts: factsOf(view, now, timeZone),
    any: rows.length + summaries.length > 0,
    summaries,
    rows: rows.slice(0, openRows),
    older: rows.slice(openRows, maxRows),
    hidden: Math.max(0, rows.length - maxRows),
    csv: `/water/systems/${system.id}/readings.csv?quantity=${quantity.code}&days=${days}`,
    allCsv: `/water/systems/${system.id}/readings.csv?days=${days}`,
    logs: recentLogs(view, system),
  };
  return showPage(service, request, reply, 'water/system', data, { title: system.name, area: 'water' });
}

/** What is said of the system above its alerts, which are counted by themselves. */
function stateSaid(state: SystemState, clock: { timeZone: string; now: Date }) {
  const { calm, words } = stateWords({ ...state, alerts: 0 }, clock);
  return { calm, words: capitalized(words) };
}

/** Every reading that is a point of its own in the chart, newest first. */
function rowsOf({ quantity, parts, biases }: SystemView) {
  return parts
    .flatMap((part) => part.readings)
    .sort((a, b) => b.at.getTime() - a.at.getTime())
    .map((reading) => tableRow(quantity, reading, biases.get(reading.kitId ?? '')));
}

/** One table for each source whose readings the chart joins by hour, day or week, newest first. */
function summaryTables({ quantity, parts }: SystemView, timeZone: string, now: Date) {
  return parts
    .filter(({ grain }) => grain !== 'reading')
    .map((part) => ({
      caption: `${quantity.name} ${sourceName(part)}: ${grainWords(part.grain)}, newest first`,
      rows: part.buckets.map((bucket) => bucketRow(quantity, bucket, part.grain, timeZone, now)).reverse(),
    }));
}

/** The quantities with a reading or a target here; for a new system the first eight. */
function tabsOf({ quantities, quantity, latest, targets }: SystemView, href: (code: string) => string) {
  const known = quantities.filter(
    ({ code }) => latest.has(code) || targets.has(code) || code === quantity.code,
  );
  const shown = known.length > 1 ? known : quantities.slice(0, 8);
  return shown.map(({ code, name }) => ({ name, href: href(code), here: code === quantity.code }));
}

/** Readings to test again, and what would settle each. */
function unconfirmedOf({ unconfirmed, quantities }: SystemView) {
  return unconfirmed.flatMap((reading) => {
    const quantity = quantities.find((one) => one.code === reading.quantityCode);
    if (quantity === undefined) return [];
    const text = `${quantity.name} ${sayReading(quantity, reading)}`;
    return [{ ...reading, text, advice: repeatAdvice(quantity, reading) }];
  });
}

/** Entries of each log beside the chart. */
const logEntries = 3;

/** The newest entries of the three logs, each with the way to its own page. */
function recentLogs(view: SystemView, system: WaterSystem) {
  const timeline = <T extends { id: string; at: Date; by: string | null }>(
    entries: readonly T[],
    what: (entry: T) => string,
    note: (entry: T) => string,
  ) =>
    entries.slice(0, logEntries).map((entry) => ({
      at: entry.at,
      what: what(entry),
      note: note(entry),
      who: entry.by ?? 'nobody named',
      href: '',
      voided: false,
    }));
  const doseWords = (dose: SystemView['doses'][number]) =>
    `${numberWords(dose.amount)} ${dose.unit} ${dose.substance}${dose.effect === null ? '' : `; ${doseEffectWords(dose, view.quantities)}`}`;
  return [
    {
      title: 'Water changes',
      path: 'water-changes',
      entries: timeline(
        view.changes,
        (change) => waterChangeWords(change, system),
        (change) => change.note,
      ),
    },
    {
      title: 'Doses',
      path: 'doses',
      entries: timeline(view.doses, doseWords, (dose) => dose.note),
    },
    {
      title: 'Feedings',
      path: 'feedings',
      entries: timeline(view.feedings, feedingWords, (feeding) => feeding.response),
    },
  ];
}

async function sendCsv(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const system = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
  const { code, from, to } = periodOf(request, service.now());
  const csv = readingsCsv(service, {
    systems: [system],
    code,
    from,
    to,
    timeZone: request.site.timeZone,
  });
  const name = `${system.name} ${code || 'readings'}`.toLowerCase().replace(/[^a-z0-9]+/g, '-');
  return reply
    .type('text/csv; charset=utf-8')
    .header('content-disposition', `attachment; filename="${name}.csv"`)
    .send(Readable.from(csv));
}

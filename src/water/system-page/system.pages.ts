import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { litres, plural } from '../../platform/words/numbers.ts';
import { agoWords } from '../../platform/words/times.ts';
import { biasWords, withoutBias } from '../kits/bias.rules.ts';
import { say, sayBand, sayDifference, unitName } from '../quantities/quantities.ts';
import { readingsCsv } from '../readings/export.csv.ts';
import { nameOf } from '../readings/sources.ts';
import { bucketRow, tableRow } from '../readings/table.ts';
import { findWater } from '../systems/systems.ts';
import { cannotTell } from '../trust/resolution.rules.ts';
import { whatSettles } from '../trust/trust.rules.ts';
import { grainWords, spanWords, systemChart } from './chart.ts';
import { outlookWords } from './forecast.rules.ts';
import { logsOf, readSystem, type SystemView } from './system.ts';

/** One system: a quantity over time with everything that was done, and the same as a table and a file. */
export function systemPages(app: FastifyInstance, service: Service): void {
  app.get('/water/systems/:id', (request, reply) => showSystem(service, request, reply));
  app.get('/water/systems/:id/readings.csv', (request, reply) => sendCsv(service, request, reply));
}

const spans = [7, 30, 90, 365, 1095];
const usualSpan = 90;
const rowsOpen = 7;
const rowsShown = 400;

interface Asked {
  quantity?: string;
  days?: string;
}

/** The period asked for, ending now. */
function periodOf(request: FastifyRequest, now: Date) {
  const { quantity = '', days = '' } = request.query as Asked;
  const span = spans.find((one) => String(one) === days) ?? usualSpan;
  return { code: quantity, days: span, from: new Date(now.getTime() - span * 86_400_000), to: now };
}

async function showSystem(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const now = service.now();
  const system = await findWater(service.db, pathId(request, 'id', 'This system'));
  const { code, days, from, to } = periodOf(request, now);
  const { timeZone } = request.site;
  const view = await readSystem(service, { systemId: system.id, code, from, to, timeZone });
  const address = (quantity: string, span: number) =>
    `/water/systems/${system.id}?quantity=${quantity}&days=${span}`;
  const { quantity } = view;
  const rows = rowsOf(view);
  const told = toldOf(view, timeZone, now);
  const data = {
    system: { ...system, about: litres(system.volumeL) },
    isManager: request.person.role !== 'hand',
    quantity: { ...quantity, unit: unitName(quantity.code, quantity.displayUnit) },
    tabs: tabsOf(view, (other) => address(other, days)),
    spans: spans.map((span) => ({
      text: spanWords(span),
      href: address(quantity.code, span),
      here: span === days,
    })),
    span: spanWords(days),
    chart: systemChart(view, { systemName: system.name, from, to, days, timeZone }),
    alerts: view.alerts,
    tanks: view.tanks,
    waiting: waitingOf(view),
    facts: factsOf(view, now, timeZone),
    any: rows.length + told.length > 0,
    told,
    rows: rows.slice(0, rowsOpen),
    older: rows.slice(rowsOpen, rowsShown),
    hidden: Math.max(0, rows.length - rowsShown),
    csv: `/water/systems/${system.id}/readings.csv?quantity=${quantity.code}&days=${days}`,
    allCsv: `/water/systems/${system.id}/readings.csv?days=${days}`,
    logs: logsOf(view, system),
  };
  return showPage(service, request, reply, 'water/system', data, { title: system.name, area: 'water' });
}

/** Every reading that stands alone in the picture, newest first. */
function rowsOf({ quantity, parts, biases }: SystemView) {
  return parts
    .flatMap((part) => part.readings)
    .sort((a, b) => b.at.getTime() - a.at.getTime())
    .map((reading) => tableRow(quantity, reading, biases.get(reading.kitId ?? '')));
}

/** What the picture tells together, source by source, newest first. */
function toldOf({ quantity, parts }: SystemView, timeZone: string, now: Date) {
  return parts
    .filter(({ grain }) => grain !== 'reading')
    .map((part) => ({
      caption: `${quantity.name} ${nameOf(part)}: ${grainWords(part.grain)}, newest first`,
      rows: part.buckets.map((bucket) => bucketRow(quantity, bucket, part.grain, timeZone, now)).reverse(),
    }));
}

/** Quantities that were ever read or are kept here; the everyday ones of a new system. */
function tabsOf({ quantities, quantity, latest, targets }: SystemView, href: (code: string) => string) {
  const known = quantities.filter(
    ({ code }) => latest.has(code) || targets.has(code) || code === quantity.code,
  );
  const shown = known.length > 1 ? known : quantities.slice(0, 8);
  return shown.map(({ code, name }) => ({ name, href: href(code), here: code === quantity.code }));
}

function waitingOf({ waiting, quantities }: SystemView) {
  return waiting.flatMap((reading) => {
    const quantity = quantities.find((one) => one.code === reading.quantityCode);
    if (quantity === undefined) return [];
    const said = `${quantity.name} ${say(quantity, reading.value, reading.below)}`;
    return [{ ...reading, said, advice: whatSettles(quantity, reading) }];
  });
}

/** The last value with its uncertainty, corrected where its kit reads wrong, and what to make of it. */
function lastFact({ quantity, latest, targets, biases, parts }: SystemView, now: Date, timeZone: string) {
  const label = 'Last reading';
  const last = latest.get(quantity.code);
  if (last === undefined) return { label, text: 'none yet', small: '' };
  const kit = biases.get(last.kitId ?? '');
  const right = withoutBias(last, kit);
  const { value, uncertainty } = right ?? last;
  const target = targets.get(quantity.code);
  const band = { low: target?.bandLow ?? null, high: target?.bandHigh ?? null };
  const read = parts.flatMap((part) => part.readings).find(({ id }) => id === last.id);
  const notes = [
    read?.laboratory ? `by ${read.laboratory}` : null,
    `${agoWords(last.at, timeZone, now)}${last.trust === 'unconfirmed' ? ', unconfirmed' : ''}`,
    right === null || kit === undefined
      ? null
      : `read ${say(quantity, last.value)}; ${kit.label} ${biasWords(kit)}`,
    cannotTell(quantity, { ...last, value, uncertainty }, band),
  ];
  const text = last.below
    ? say(quantity, value, true)
    : `${say(quantity, value)} ± ${sayDifference(quantity, uncertainty, value)}`;
  return { label, text, small: notes.filter((note) => note !== null).join('; ') };
}

function factsOf(view: SystemView, now: Date, timeZone: string) {
  const { quantity, targets, outlook } = view;
  const target = targets.get(quantity.code);
  const ahead = outlookWords(quantity, outlook, target, timeZone);
  const source = target?.source ?? '';
  const figure = (value: number | null | undefined, none: string) =>
    value === null || value === undefined ? none : say(quantity, value);
  return [
    lastFact(view, now, timeZone),
    {
      label: 'Band kept',
      text: sayBand(quantity, target?.bandLow ?? null, target?.bandHigh ?? null) ?? 'not set',
      small: source,
    },
    { label: 'Limit', text: figure(target?.limitHigh, 'not set'), small: '' },
    { label: 'Make-up water', text: figure(target?.makeUp, 'not known'), small: '' },
    ...(ahead === '' ? [] : [{ label: 'Ahead', text: ahead, small: '' }]),
    ...youngFact(view, now),
  ].map((row) => ({ ...row, href: '', unit: '' }));
}

/** What the watch compares with its own habit, and from how many days of readings it does. */
const learnt = ['nitrate', 'alkalinity'];
const habitDays = 60;

function youngFact({ quantity, since }: SystemView, now: Date) {
  const days = since === null ? 0 : Math.floor((now.getTime() - since.getTime()) / 86_400_000);
  if (!learnt.includes(quantity.code) || days >= habitDays) return [];
  const small = `This water’s own habit is known from ${habitDays} days of readings; they reach back ${plural(days, 'day', 'days')}.`;
  return [{ label: 'Watched by', text: 'its band alone', small }];
}

async function sendCsv(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const system = await findWater(service.db, pathId(request, 'id', 'This system'));
  const { code, from, to } = periodOf(request, service.now());
  const csv = await readingsCsv(service, {
    systemId: system.id,
    code,
    from,
    to,
    timeZone: request.site.timeZone,
  });
  const name = `${system.name} ${code || 'readings'}`.toLowerCase().replace(/[^a-z0-9]+/g, '-');
  return reply
    .type('text/csv; charset=utf-8')
    .header('content-disposition', `attachment; filename="${name}.csv"`)
    .send(csv);
}

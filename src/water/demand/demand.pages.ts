import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { eventKinds } from '../../farm/events/kinds.rules.ts';
import { type ChartPoint, timeChart } from '../../platform/charts/time-chart.ts';
import type { Service } from '../../platform/service.ts';
import { litres } from '../../platform/units/measures.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { dateAtDay } from '../../science/numeric/time.ts';
import { productKey } from '../dosing/product-effect.rules.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import { decimalsIn, unitName } from '../quantities/quantities.ts';
import { heldBack, heldDoses, type ToldAdvice } from '../systems/held-doses.ts';
import { findWaterSystem, type WaterSystem } from '../systems/systems.ts';
import { type DemandCode, demandCodes } from './demand.ts';
import { figuresSaid } from './nutrient-words.rules.ts';
import type { DemandRate } from './rate.rules.ts';
import { silentDays } from './silence.rules.ts';
import { notCountedWords, productsWords, type UnknownProduct, unknownIn } from './unknown-doses.rules.ts';
import { lowerMedian } from './usable-readings.rules.ts';
import { type DemandFigures, type DemandView, readDemandView } from './view.ts';
import {
  dailyAmountNumber,
  dailyAmountWords,
  displayDifference,
  dosingAdvice,
  isDosed,
  isDoserInDoubt,
  isUseKnown,
  learntWords,
  leftOutWords,
  levelJumpWarning,
  ratePeriodWords,
  rateSentence,
  ratioWords,
  shiftWords,
  weeklyWords,
} from './words.rules.ts';

/** What a system's stock uses and its feeding brings, in words, as a chart and as a table. */
export function demandPages(app: FastifyInstance, service: Service): void {
  app.get('/water/systems/:id/demand', (request, reply) => showDemand(service, request, reply));
}

async function showDemand(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const now = service.now();
  const { timeZone } = request.site;
  const system = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
  const view = await readDemandView(service, system, now);
  const held = await heldDoses(service.pool, system.id, now);
  const { quantity: asked = '' } = request.query as { quantity?: string };
  const code: DemandCode = demandCodes.find((one) => one === asked) ?? 'alkalinity';
  const figures = view.figures.find((one) => one.quantity.code === code);
  if (figures === undefined) throw new Error('there are no quantities; load the care library');
  const data = {
    system: { ...system, about: litres(system.volumeL) },
    learnt: learntWords(figures.data, timeZone, now),
    rows: view.figures.map((one) => rowOf(one, system, held, code)),
    quantity: { name: figures.quantity.name, code },
    chart: chartOf(figures, system.name, now, timeZone),
    details: detailsOf(figures, timeZone, now),
    figures: figuresSaid(figures, system.id).all,
    ratio: isDosed(code) && code !== 'magnesium' ? ratioWords(view.ratio, unknownBeside(view)) : '',
    unknown: toSay(view.figures),
    mix: isDosed(code)
      ? levelJumpWarning(figures.quantity, figures.jump, figures.level ?? 0, figures.data.log.makeUp)
      : '',
    history: historyOf(figures, timeZone),
    nutrients: isDosed(code) ? null : `/water/systems/${system.id}/nutrients?quantity=${code}`,
  };
  return showPage(service, request, reply, 'water/demand', data, {
    title: `Demand: ${system.name}`,
    area: 'water',
  });
}

function rowOf(figures: DemandFigures, system: WaterSystem, held: readonly ToldAdvice[], chosen: string) {
  const { quantity, now, supply, data, today } = figures;
  const { code, name } = quantity;
  const said = figuresSaid(figures, system.id);
  return {
    name,
    href: `/water/systems/${system.id}/demand?quantity=${code}`,
    here: code === chosen,
    rate: now.rate === null ? 'not known yet' : rateSentence(quantity, now.rate, data),
    means: dosingAdvice(quantity, now, supply, {
      volumeL: system.volumeL,
      data,
      today,
      settles: said.settles,
      before: figures.before,
    }),
    held: isDosed(code) ? heldBack(held, code) : [],
    figures: said.all,
    warns: isDosed(code) && figures.jump !== null,
  };
}

function detailsOf(figures: DemandFigures, timeZone: string, now: Date) {
  const { quantity, now: present, supply, shift, data, today } = figures;
  const { rate } = present;
  if (rate === null) return [fact('Now', `Cannot tell yet: ${present.why}.`)];
  const dosed = isDosed(quantity.code);
  const isKnown = isUseKnown(data, rate);
  const rows = [
    fact(silentDays(data, today) === null ? 'Now' : 'As last tested', rateSentence(quantity, rate, data)),
    fact('Tests used', ratePeriodWords(rate, timeZone, now)),
    fact('Not counted', leftOutWords(rate, data)),
    fact('Dosed a day', dosedWords(figures, rate)),
    fact('Make-up water', makeUpWords(figures)),
    fact(
      'In a week',
      dosed && isKnown && supply !== null && !isDoserInDoubt(data, rate)
        ? weeklyWords(quantity, supply, rate.level)
        : '',
    ),
    fact(
      'Over time',
      quantity.code === 'alkalinity' ? shiftWords(quantity, shift, unknownIn(data, rate), data.doser) : '',
    ),
  ];
  return rows.filter(({ text }) => text !== '');
}

/** What was dosed a day; what nobody knows the effect of is not told as nothing. */
function dosedWords({ quantity, data }: DemandFigures, rate: DemandRate): string {
  const dosed = isDosed(quantity.code);
  const amount = `${dailyAmountWords(quantity, rate.dosedPerDay, rate.level)}, as logged`;
  const unknown = dosed ? unknownIn(data, rate) : [];
  if (unknown.length > 0)
    return rate.dosedPerDay === 0
      ? `not known: ${notCountedWords(unknown)}`
      : `${amount}; ${notCountedWords(unknown)}`;
  return rate.dosedPerDay === 0 && !(dosed && isUseKnown(data, rate)) ? '' : amount;
}

/** What is to be said before use can be told, of all that is dosed here; '' where nothing is. */
function toSay(all: readonly DemandFigures[]): string {
  const once = productsOf(
    all.map(({ quantity, data, now: { rate } }) =>
      rate !== null && isDosed(quantity.code) ? unknownIn(data, rate) : [],
    ),
  );
  return once.length === 0 ? '' : productsWords(once);
}

/** Each product once. */
function productsOf(found: readonly UnknownProduct[][]): UnknownProduct[] {
  const alike = Map.groupBy(found.flat(), ({ substance }) => productKey(substance));
  return [...alike.values()].flatMap(([one]) => (one === undefined ? [] : [one]));
}

function unknownBeside({ ratio, figures }: DemandView) {
  if (ratio === null) return [];
  const both = figures.filter(({ quantity: { code } }) => code === 'alkalinity' || code === 'calcium');
  return productsOf(both.map(({ data }) => unknownIn(data, ratio.alkalinity)));
}

const fact = (label: string, text: string) => ({ label, text, unit: '', href: '', small: '' });

function makeUpWords({ quantity, data }: DemandFigures): string {
  if (data.makeUpStated || data.log.changes.length === 0) return '';
  const taken = isDosed(quantity.code)
    ? 'it is taken to be like the system’s own'
    : 'it is taken to hold none';
  return `Not stated, so ${taken}. Enter what it holds under “Target bands”.`;
}

/** A week whose interval is more than this many times the usual one is left out of the chart: it would flatten the others. Own choice. */
const widestInterval = 4;

/** The weekly rates with their intervals, in the farm's unit a day; use and production both point upwards. */
function chartOf(
  { quantity, weeks, days, data, now: present }: DemandFigures,
  systemName: string,
  now: Date,
  timeZone: string,
) {
  const sign = isDosed(quantity.code) ? -1 : 1;
  const all = weeks.flatMap(({ day, rate }): ChartPoint[] => {
    if (rate === null) return [];
    const inFarm = (value: number) => displayDifference(quantity, value, rate.level);
    const at = dateAtDay(day);
    return [
      { at, value: inFarm(sign * rate.perDay), error: inFarm((rate.high - rate.low) / 2), kind: 'plain' },
    ];
  });
  const usual = lowerMedian(all.map(({ error }) => error)) ?? 0;
  const points = all.filter(({ error }) => error <= widestInterval * usual);
  const hidden = all.length - points.length;
  const hiddenWords =
    hidden === 0 ? '' : ` ${plural(hidden, 'week', 'weeks')} too uncertain to draw: see the table.`;
  const isKnown = present.rate === null || isUseKnown(data, present.rate);
  const what = isDosed(quantity.code)
    ? isKnown
      ? `${quantity.name} used a day`
      : `Fall of ${nameInSentence(quantity.name)} a day, use not known,`
    : `${quantity.name} made a day`;
  const known = points.map(({ value }) => value);
  const digits = decimalsIn(quantity, quantity.displayUnit) + 1;
  const decimals = (value: number) => numberWords(value, digits);
  const unit = unitName(quantity.code, quantity.displayUnit);
  const since = data.learntSince;
  const changed = since === null ? [] : [{ at: dateAtDay(since.day), text: eventKinds[since.kind] }];
  const says =
    points.length === 0
      ? `${what} in ${systemName}: no week in which it could be told.`
      : `${what} in ${systemName}, ${plural(points.length, 'week', 'weeks')}: from ${decimals(Math.min(...known))} to ${decimals(Math.max(...known))} ${unit} a day, the last ${decimals(known.at(-1) ?? 0)}. Each point is from the ${days} days before it.${hiddenWords}${changed.map(({ at, text }) => ` Marked: ${text}, ${dateWords(at, timeZone)}.`).join('')}`;
  const first = weeks[0]?.day ?? 0;
  const chart = {
    label: says,
    from: dateAtDay(first - 4),
    to: now,
    timeZone,
    points,
    markers: changed,
  };
  const empty = points.length === 0;
  return empty
    ? { wide: null, narrow: null, says, unit }
    : { wide: timeChart(chart), narrow: timeChart({ ...chart, width: 360, height: 300 }), says, unit };
}

function historyOf({ quantity, weeks }: DemandFigures, timeZone: string) {
  return weeks
    .flatMap(({ day, rate }) => {
      if (rate === null) return [];
      const sign = isDosed(quantity.code) ? -1 : 1;
      const text = (value: number) => dailyAmountNumber(quantity, sign * value, rate.level);
      const ends = [text(rate.low), text(rate.high)];
      return [
        {
          week: dateWords(dateAtDay(day), timeZone),
          rate: text(rate.perDay),
          interval: (sign < 0 ? ends.reverse() : ends).join(' to '),
          dosed: dailyAmountNumber(quantity, rate.dosedPerDay, rate.level),
          readings: rate.readings,
        },
      ];
    })
    .reverse();
}

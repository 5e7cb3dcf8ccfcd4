import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { type ChartPoint, timeChart } from '../../platform/charts/time-chart.ts';
import type { Service } from '../../platform/service.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { litres, numberWords, plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { dateAtDay } from '../../science/numeric/time.ts';
import { decimalsIn, unitName } from '../quantities/quantities.ts';
import { findWater, type WaterSystem } from '../systems/systems.ts';
import { type DemandCode, demandCodes } from './demand.ts';
import { middle } from './rate.rules.ts';
import { type DemandFigures, readDemandView } from './view.ts';
import {
  differenceInFarm,
  isDosed,
  leftOutWords,
  meaningOf,
  mixWords,
  rateSentence,
  ratioWords,
  sayADay,
  shiftWords,
  spanWords,
  textADay,
  weekWords,
} from './words.rules.ts';

/** What a system's stock uses up and its feeding brings, over time and in words. */
export function demandPages(app: FastifyInstance, service: Service): void {
  app.get('/water/systems/:id/demand', (request, reply) => showDemand(service, request, reply));
}

async function showDemand(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const now = service.now();
  const { timeZone } = request.site;
  const system = await findWater(service.db, pathId(request, 'id', 'This system'));
  const view = await readDemandView(service, system, now);
  const { quantity: asked = '' } = request.query as { quantity?: string };
  const code: DemandCode = demandCodes.find((one) => one === asked) ?? 'alkalinity';
  const figures = view.figures.find((one) => one.quantity.code === code);
  if (figures === undefined) throw new Error('there are no quantities; load the care library');
  const data = {
    system: { ...system, about: litres(system.volumeL) },
    rows: view.figures.map((one) => rowOf(one, system, code)),
    quantity: { name: figures.quantity.name, code },
    chart: chartOf(figures, system.name, now, timeZone),
    details: detailsOf(figures, timeZone, now),
    ratio: isDosed(code) && code !== 'magnesium' ? ratioWords(view.ratio) : '',
    mix: isDosed(code)
      ? mixWords(figures.quantity, figures.mix, figures.level ?? 0, figures.part.log.makeUp)
      : '',
    history: historyOf(figures, timeZone),
    nutrients: isDosed(code) ? null : `/water/systems/${system.id}/nutrients?quantity=${code}`,
  };
  return showPage(service, request, reply, 'water/demand', data, {
    title: `Demand: ${system.name}`,
    area: 'water',
  });
}

function rowOf(figures: DemandFigures, system: WaterSystem, here: string) {
  const { quantity, now, supply, part } = figures;
  const { code, name } = quantity;
  return {
    name,
    href: `/water/systems/${system.id}/demand?quantity=${code}`,
    here: code === here,
    rate: now.rate === null ? 'not known yet' : rateSentence(quantity, now.rate),
    means: meaningOf(quantity, now, supply, { volumeL: system.volumeL, makeUp: part.log.makeUp }),
    warns: isDosed(code) && figures.mix !== null,
  };
}

function detailsOf(figures: DemandFigures, timeZone: string, now: Date) {
  const { quantity, now: late, supply, shift, part } = figures;
  const { rate } = late;
  if (rate === null) return [plain('Now', `Cannot tell yet: ${late.why}.`)];
  const dosed = isDosed(quantity.code);
  const rows = [
    plain('Now', rateSentence(quantity, rate)),
    plain('It rests on', spanWords(rate, timeZone, now)),
    plain('Not counted', leftOutWords(rate, part)),
    plain(
      'Dosed a day',
      rate.dosedPerDay === 0 && !dosed ? '' : `${sayADay(quantity, rate.dosedPerDay, rate.level)}, as logged`,
    ),
    plain('Make-up water', makeUpWords(figures)),
    plain('In a week', dosed && supply !== null ? weekWords(quantity, supply, rate.level) : ''),
    plain('Over time', quantity.code === 'alkalinity' ? shiftWords(quantity, shift) : ''),
  ];
  return rows.filter(({ text }) => text !== '');
}

const plain = (label: string, text: string) => ({ label, text, unit: '', href: '', small: '' });

function makeUpWords({ quantity, part }: DemandFigures): string {
  if (part.makeUpStated || part.log.changes.length === 0) return '';
  const taken = isDosed(quantity.code)
    ? 'it is taken to be like the system’s own'
    : 'it is taken to hold none';
  return `Not stated, so ${taken}. Say what it holds under “What it keeps”.`;
}

/** An interval so many times the usual one would press the others flat. */
const widest = 4;

/** Points of the weeks with their intervals, in the farm's unit a day; use and production both upwards. */
function chartOf({ quantity, weeks, days }: DemandFigures, systemName: string, now: Date, timeZone: string) {
  const sign = isDosed(quantity.code) ? -1 : 1;
  const all = weeks.flatMap(({ day, rate }): ChartPoint[] => {
    if (rate === null) return [];
    const inFarm = (value: number) => differenceInFarm(quantity, value, rate.level);
    const at = dateAtDay(day);
    return [
      { at, value: inFarm(sign * rate.perDay), error: inFarm((rate.high - rate.low) / 2), kind: 'plain' },
    ];
  });
  const usual = middle(all.map(({ error }) => error)) ?? 0;
  const points = all.filter(({ error }) => error <= widest * usual);
  const hidden = all.length - points.length;
  const wide =
    hidden === 0 ? '' : ` ${plural(hidden, 'week', 'weeks')} too uncertain to draw: see the table.`;
  const word = isDosed(quantity.code) ? 'used' : 'made';
  const known = points.map(({ value }) => value);
  const digits = decimalsIn(quantity, quantity.displayUnit) + 1;
  const decimals = (value: number) => numberWords(value, digits);
  const unit = unitName(quantity.code, quantity.displayUnit);
  const says =
    points.length === 0
      ? `${quantity.name} ${word} a day in ${systemName}: no week in which it could be told.`
      : `${quantity.name} ${word} a day in ${systemName}, ${plural(points.length, 'week', 'weeks')}: from ${decimals(Math.min(...known))} to ${decimals(Math.max(...known))} ${unit} a day, the last ${decimals(known.at(-1) ?? 0)}. Each point rests on the ${days} days before it.${wide}`;
  const first = weeks[0]?.day ?? 0;
  const chart = {
    label: says,
    from: dateAtDay(first - 4),
    to: now,
    timeZone,
    points,
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
      const text = (value: number) => textADay(quantity, sign * value, rate.level);
      const ends = [text(rate.low), text(rate.high)];
      return [
        {
          week: dateWords(dateAtDay(day), timeZone),
          rate: text(rate.perDay),
          interval: (sign < 0 ? ends.reverse() : ends).join(' to '),
          dosed: textADay(quantity, rate.dosedPerDay, rate.level),
          readings: rate.readings,
        },
      ];
    })
    .reverse();
}

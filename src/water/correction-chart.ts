import { scaleLinear, scaleUtc } from 'd3-scale';
import { area, line } from 'd3-shape';
import { dayTicks } from '../platform/charts/days.ts';
import { escapeMarkup, px } from '../platform/charts/markup.ts';
import { numberWords } from '../platform/words.ts';
import { levelAt, type Moved } from './correction-course.rules.ts';
import type { CorrectionState } from './correction-state.ts';
import { farmValue, say } from './quantities.ts';

const day = 86_400_000;
const margin = { left: 46, right: 14, top: 16, bottom: 34 };

interface Picture {
  svg: string;
  says: string;
}

/** Expected against read: the course of the plan as it was done and is to come, and the readings with their bars. */
export function correctionChart(state: CorrectionState, now: Date, width = 760, height = 260): Picture {
  const { quantity, readings, target } = state;
  const course = { ...state.course, done: [...state.course.done, ...toCome(state, now)] };
  const from = state.reading.at;
  const to = new Date(Math.max(from.getTime() + 2 * day, lastMoment(state, now) + day));
  const inFarm = (value: number) => farmValue(quantity, value).value;
  const moments = Array.from(
    { length: 121 },
    (_, i) => from.getTime() + ((to.getTime() - from.getTime()) * i) / 120,
  );
  const edges = course.done.flatMap((one) => [one.day * day - 1, one.day * day]);
  const line0 = [...moments, ...edges]
    .filter((at) => at >= from.getTime() && at <= to.getTime())
    .sort((a, b) => a - b)
    .map((at) => ({ at: new Date(at), ...levelAt(course, at / day) }));
  const shown = readings.filter((one) => one.at >= from && one.at <= to);
  const values = [
    inFarm(target),
    ...line0.flatMap(({ value, u }) => [inFarm(value - u), inFarm(value + u)]),
    ...shown.flatMap(({ value, uncertainty }) => [inFarm(value - uncertainty), inFarm(value + uncertainty)]),
  ];
  const x = scaleUtc([from, to], [margin.left, width - margin.right]);
  const y = scaleLinear(
    [Math.min(...values), Math.max(...values)],
    [height - margin.bottom, margin.top],
  ).nice(4);
  const ticks = y.ticks(4);
  const decimals = Math.max(0, Math.ceil(-Math.log10((ticks[1] ?? 1) - (ticks[0] ?? 0)) - 1e-9));
  const grid = ticks.map(
    (tick) =>
      `<line class="grid" x1="${margin.left}" x2="${width - margin.right}" y1="${px(y(tick))}" y2="${px(y(tick))}"/><text class="tick" x="${margin.left - 8}" y="${px(y(tick) + 4.5)}" text-anchor="end">${numberWords(tick, decimals)}</text>`,
  );
  const days = dayTicks(from, to, state.timeZone, Math.floor(width / 90)).map(
    ({ at, text }) =>
      `<text class="tick" x="${px(x(at))}" y="${height - 10}" text-anchor="${x(at) > width - 40 ? 'end' : 'middle'}">${escapeMarkup(text)}</text>`,
  );
  type At = (typeof line0)[number];
  const band = area<At>(
    (one) => px(x(one.at)),
    (one) => px(y(inFarm(one.value - one.u))),
    (one) => px(y(inFarm(one.value + one.u))),
  )(line0);
  const middle = line<At>(
    (one) => px(x(one.at)),
    (one) => px(y(inFarm(one.value))),
  )(line0);
  const aim = `<line class="limit" x1="${margin.left}" x2="${width - margin.right}" y1="${px(y(inFarm(target)))}" y2="${px(y(inFarm(target)))}"/><text class="limit-label" x="${width - margin.right}" y="${px(y(inFarm(target)) - 5)}" text-anchor="end">target ${escapeMarkup(say(quantity, target))}</text>`;
  const points = shown.map((one) => {
    const [cx, cy] = [px(x(one.at)), px(y(inFarm(one.value)))];
    const open = one.trust === 'unconfirmed' ? ' unconfirmed' : '';
    return `<line class="bar" x1="${cx}" x2="${cx}" y1="${px(y(inFarm(one.value + one.uncertainty)))}" y2="${px(y(inFarm(one.value - one.uncertainty)))}"/><circle class="point${open}" cx="${cx}" cy="${cy}" r="3.5"/>`;
  });
  const says = sentence(state, shown.length);
  const parts = [
    ...grid,
    ...days,
    `<path class="forecast-band" d="${band ?? ''}"/>`,
    aim,
    `<path class="forecast" d="${middle ?? ''}"/>`,
    ...points,
  ];
  return {
    svg: `<svg class="chart" viewBox="0 0 ${width} ${height}" role="img" aria-label="${escapeMarkup(says)}">${parts.join('')}</svg>`,
    says,
  };
}

/** The steps still to be done, on the days they are planned for or from now on. */
function toCome(state: CorrectionState, now: Date): Moved[] {
  if (state.finishedAt !== null || state.stoppedAt !== null) return [];
  const open = state.steps.filter((step) => step.doneAt === null && step.leftOutAt === null);
  return open.map((step, i) => {
    const planned = new Date(`${step.dueOn}T12:00Z`).getTime();
    const moment = Math.max(planned, now.getTime() + i * day) / day;
    const makeUp = state.basis.makeUp;
    return makeUp === null
      ? { day: moment, rise: step.change }
      : { day: moment, fraction: step.amount / state.volumeL, makeUp };
  });
}

function lastMoment(state: CorrectionState, now: Date): number {
  const ended = (state.finishedAt ?? state.stoppedAt)?.getTime() ?? 0;
  const planned = state.steps.map((step) => new Date(`${step.dueOn}T12:00Z`).getTime());
  return ended > 0 ? ended : Math.max(now.getTime(), ...planned);
}

function sentence(state: CorrectionState, count: number): string {
  const { quantity } = state;
  const newest = [...state.readings].sort((a, b) => b.at.getTime() - a.at.getTime())[0];
  const read =
    newest === undefined
      ? 'nothing read yet'
      : `${count} ${count === 1 ? 'reading' : 'readings'}, the newest ${say(quantity, newest.value)}`;
  return `${quantity.name} from ${say(quantity, state.reading.value)} towards ${say(quantity, state.target)}: the course expected with its uncertainty, and ${read}.`;
}

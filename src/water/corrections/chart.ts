import { type ScaleLinear, type ScaleTime, scaleLinear, scaleUtc } from 'd3-scale';
import { area, line } from 'd3-shape';
import { dayTicks } from '../../platform/charts/days.ts';
import { escapeMarkup, px } from '../../platform/charts/markup.ts';
import { isOpen, isRunning } from '../../platform/plans/plans.rules.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { dayMs, hourMs } from '../../science/numeric/time.ts';
import { farmValue, say } from '../quantities/quantities.ts';
import { type LevelChange, levelAt } from './expected-level.rules.ts';
import type { Candidate } from './starting-reading.rules.ts';
import type { CorrectionState } from './state.ts';

/** A picture and the sentence that says what it shows. */
interface Picture {
  svg: string;
  says: string;
}

/** The level expected at one moment, with one standard uncertainty either way; the farm's unit. */
interface Expected {
  at: Date;
  value: number;
  low: number;
  high: number;
}

interface Frame {
  x: ScaleTime<number, number>;
  y: ScaleLinear<number, number>;
  width: number;
  height: number;
}

const margin = { left: 46, right: 14, top: 16, bottom: 34 };
/** Moments along the line, besides the steps themselves. */
const along = 120;

/** Expected against read: the course of the plan as it was done and is to come, and the readings with their bars. */
export function correctionChart(state: CorrectionState, now: Date, width = 760, height = 260): Picture {
  const [from, to] = periodOf(state, now);
  const expected = expectedBetween(state, now, from, to);
  const shown = state.readings.filter((one) => one.at >= from && one.at <= to);
  const x = scaleUtc([from, to], [margin.left, width - margin.right]);
  const y = scaleLinear(domainOf(state, expected, shown), [height - margin.bottom, margin.top]).nice(4);
  const frame = { x, y, width, height };
  const says = sentence(state, shown);
  const parts = [
    gridOf(frame),
    daysOf(frame, from, to, state.timeZone),
    courseOf(frame, expected),
    aimOf(frame, state),
    ...shown.map((one) => pointOf(frame, state, one)),
  ];
  const svg = `<svg class="chart" viewBox="0 0 ${width} ${height}" role="img" aria-label="${escapeMarkup(says)}">${parts.join('')}</svg>`;
  return { svg, says };
}

/** From the reading it starts from to a day after its last step, or to its end. */
function periodOf(state: CorrectionState, now: Date): [Date, Date] {
  const from = state.reading.at;
  const planned = state.steps.map((step) => plannedMoment(step.dueOn));
  const last = state.endedAt?.getTime() ?? Math.max(now.getTime(), ...planned);
  return [from, new Date(Math.max(from.getTime() + 2 * dayMs, last + dayMs))];
}

const plannedMoment = (dueOn: string) => new Date(`${dueOn}T12:00Z`).getTime();

function expectedBetween(state: CorrectionState, now: Date, from: Date, to: Date): Expected[] {
  const course = { ...state.course, done: [...state.course.done, ...toCome(state, now)] };
  const inFarm = (value: number) => farmValue(state.quantity, value).value;
  const span = to.getTime() - from.getTime();
  const moments = Array.from({ length: along + 1 }, (_, i) => from.getTime() + (span * i) / along);
  // A step is upright: a moment just before it, and its own.
  const steps = course.done.flatMap((one) => [one.day * dayMs - 1, one.day * dayMs]);
  return [...moments, ...steps]
    .filter((at) => at >= from.getTime() && at <= to.getTime())
    .sort((a, b) => a - b)
    .map((at) => {
      const { value, u } = levelAt(course, at / dayMs);
      return { at: new Date(at), value: inFarm(value), low: inFarm(value - u), high: inFarm(value + u) };
    });
}

/** The steps still to be done, on the days they are planned for or from now on. */
function toCome(state: CorrectionState, now: Date): LevelChange[] {
  if (!isRunning(state)) return [];
  const { makeUp } = state.basis;
  let before: number | null = null;
  return state.steps.filter(isOpen).map((step) => {
    const gap = step.afterHours === null ? dayMs : step.afterHours * hourMs;
    before = Math.max(plannedMoment(step.dueOn), before === null ? now.getTime() : before + gap);
    const moment = before / dayMs;
    return makeUp === null
      ? { day: moment, rise: step.change }
      : { day: moment, fraction: step.amount / state.volumeL, makeUp };
  });
}

function domainOf(
  { quantity, target }: CorrectionState,
  expected: readonly Expected[],
  shown: readonly Candidate[],
): [number, number] {
  const inFarm = (value: number) => farmValue(quantity, value).value;
  const values = [
    inFarm(target),
    ...expected.flatMap(({ low, high }) => [low, high]),
    ...shown.flatMap(({ value, uncertainty }) => [inFarm(value - uncertainty), inFarm(value + uncertainty)]),
  ];
  return [Math.min(...values), Math.max(...values)];
}

function gridOf({ y, width }: Frame): string {
  const ticks = y.ticks(4);
  const decimals = Math.max(0, Math.ceil(-Math.log10((ticks[1] ?? 1) - (ticks[0] ?? 0)) - 1e-9));
  return ticks
    .map((tick) => {
      const text = `<text class="tick" x="${margin.left - 8}" y="${px(y(tick) + 4.5)}" text-anchor="end">${numberWords(tick, decimals)}</text>`;
      return `${across('grid', y(tick), width)}${text}`;
    })
    .join('');
}

const across = (kind: string, at: number, width: number) =>
  `<line class="${kind}" x1="${margin.left}" x2="${width - margin.right}" y1="${px(at)}" y2="${px(at)}"/>`;

function daysOf({ x, width, height }: Frame, from: Date, to: Date, timeZone: string): string {
  return dayTicks(from, to, timeZone, Math.floor(width / 90))
    .map(({ at, text }) => {
      const anchor = x(at) > width - 40 ? 'end' : 'middle';
      return `<text class="tick" x="${px(x(at))}" y="${height - 10}" text-anchor="${anchor}">${escapeMarkup(text)}</text>`;
    })
    .join('');
}

function courseOf({ x, y }: Frame, expected: readonly Expected[]): string {
  const band = area<Expected>(
    (one) => px(x(one.at)),
    (one) => px(y(one.low)),
    (one) => px(y(one.high)),
  )([...expected]);
  const middle = line<Expected>(
    (one) => px(x(one.at)),
    (one) => px(y(one.value)),
  )([...expected]);
  return `<path class="forecast-band" d="${band ?? ''}"/><path class="forecast" d="${middle ?? ''}"/>`;
}

function aimOf({ y, width }: Frame, { quantity, target }: CorrectionState): string {
  const at = y(farmValue(quantity, target).value);
  const text = `<text class="limit-label" x="${margin.left + 4}" y="${px(at - 5)}">target ${escapeMarkup(say(quantity, target))}</text>`;
  return `${across('limit', at, width)}${text}`;
}

function pointOf({ x, y }: Frame, { quantity }: CorrectionState, one: Candidate): string {
  const inFarm = (value: number) => farmValue(quantity, value).value;
  const [cx, cy] = [px(x(one.at)), px(y(inFarm(one.value)))];
  const [high, low] = [one.value + one.uncertainty, one.value - one.uncertainty].map((end) =>
    px(y(inFarm(end))),
  );
  const open = one.trust === 'unconfirmed' ? ' unconfirmed' : '';
  return `<line class="bar" x1="${cx}" x2="${cx}" y1="${high}" y2="${low}"/><circle class="point${open}" cx="${cx}" cy="${cy}" r="3.5"/>`;
}

function sentence({ quantity, reading, target }: CorrectionState, shown: readonly Candidate[]): string {
  const [newest] = [...shown].sort((a, b) => b.at.getTime() - a.at.getTime());
  const read =
    newest === undefined
      ? 'nothing read yet'
      : `${shown.length} ${shown.length === 1 ? 'reading' : 'readings'}, the newest ${say(quantity, newest.value)}`;
  return `${quantity.name} from ${say(quantity, reading.value)} towards ${say(quantity, target)}: the course expected with its uncertainty, and ${read}.`;
}

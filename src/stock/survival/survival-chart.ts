import { scaleLinear } from 'd3-scale';
import { escapeMarkup, px } from '../../platform/charts/markup.ts';
import type { GroupSurvival } from './compare.rules.ts';

/** How lines are told apart without colour: a pattern of dashes each. */
const DASHES = ['', '9 4', '2 4', '9 4 2 4', '14 5', '5 5'];

/** Lines that one picture holds (own choice). */
export const MOST_LINES = DASHES.length;

const margin = { left: 56, right: 150, top: 14, bottom: 40 };

/** Height of a line of the names beneath the picture of a phone. */
const nameHeight = 20;

/**
 * Survival after the cut as steps, the first group with its interval: svg of the class "chart". Names stand at the ends of
 * the lines, on a phone beneath the picture, each with its dashes.
 */
export function survivalChart(
  groups: readonly GroupSurvival[],
  { width, height = 300, days }: { width: number; height?: number; days: number },
): string {
  const narrow = width < 500;
  const [left, right] = [margin.left, width - (narrow ? 14 : margin.right)];
  const [top, bottom] = [margin.top, height - margin.bottom];
  const whole = narrow ? height + groups.length * nameHeight + 6 : height;
  const x = scaleLinear([0, days], [left, right]);
  const y = scaleLinear([0, 1], [bottom, top]);
  const grid = [0, 0.25, 0.5, 0.75, 1]
    .map(
      (share) =>
        `<line class="grid" x1="${left}" x2="${right}" y1="${px(y(share))}" y2="${px(y(share))}"/><text class="tick" x="${left - 8}" y="${px(y(share) + 4.5)}" text-anchor="end">${share * 100} %</text>`,
    )
    .join('');
  const ticks = x
    .ticks(narrow ? 4 : 7)
    .map(
      (day) => `<text class="tick" x="${px(x(day))}" y="${bottom + 20}" text-anchor="middle">${day}</text>`,
    )
    .join('');
  const name = `<text class="tick" x="${right}" y="${height - 4}" text-anchor="end">days after the cut</text>`;
  const lines = groups.map((group, i) => lineOf(group, i, { x, y, days })).join('');
  const names = narrow
    ? namesBeneath(groups, { left, top: height })
    : namesBeside(endsOf(groups, days), { y, right });
  const says = `Share of cut pieces alive by day after the cut: ${groups.map(({ name: of }) => of).join(', ')}.`;
  return `<svg class="chart" viewBox="0 0 ${width} ${whole}" role="img" aria-label="${escapeMarkup(says)}">${grid}${ticks}${name}${lines}${names}</svg>`;
}

interface Scales {
  x: (day: number) => number;
  y: (share: number) => number;
}

/** Where a line ends: nobody knows how it goes on. */
const lastDay = ({ until }: GroupSurvival, days: number) => Math.min(days, until);

function lineOf(group: GroupSurvival, index: number, { x, y, days }: Scales & { days: number }): string {
  const end = lastDay(group, days);
  const steps = group.curve.steps.filter(({ time }) => time <= days);
  const path = [
    `M${px(x(0))} ${px(y(1))}`,
    ...steps.map(({ time, survival }) => `H${px(x(time))}V${px(y(survival))}`),
    `H${px(x(end))}`,
  ].join('');
  const band =
    index > 0
      ? ''
      : steps
          .map(({ time, low, high }, i) => {
            if (low === null || high === null) return '';
            const until = steps[i + 1]?.time ?? end;
            const [from, to] = [x(time), x(until)];
            return `<rect class="forecast-band" x="${px(from)}" y="${px(y(high))}" width="${px(Math.max(0, to - from))}" height="${px(Math.max(0, y(low) - y(high)))}"/>`;
          })
          .join('');
  return `${band}<path class="line" stroke-dasharray="${DASHES[index] ?? ''}" d="${path}"/>`;
}

function endsOf(groups: readonly GroupSurvival[], days: number) {
  return groups.map((group) => ({
    name: group.name,
    day: lastDay(group, days),
    survival: group.curve.steps.findLast(({ time }) => time <= days)?.survival ?? 1,
  }));
}

/** Each line with its dashes and its name, one under the other. */
function namesBeneath(
  groups: readonly GroupSurvival[],
  { left, top }: { left: number; top: number },
): string {
  return groups
    .map(({ name }, i) => {
      const y = top + (i + 0.7) * nameHeight;
      const dash = `<line class="line" stroke-dasharray="${DASHES[i] ?? ''}" x1="${left}" x2="${left + 44}" y1="${px(y)}" y2="${px(y)}"/>`;
      return `${dash}<text class="label" x="${left + 54}" y="${px(y + 4.5)}">${escapeMarkup(shortName(name, 30))}</text>`;
    })
    .join('');
}

const shortName = (name: string, most: number) => (name.length > most ? `${name.slice(0, most - 1)}…` : name);

/** Names beside the ends of the lines, pushed apart so that none covers another. */
function namesBeside(
  ends: readonly { name: string; survival: number }[],
  { y, right }: Pick<Scales, 'y'> & { right: number },
): string {
  let lowest = 0;
  return ends
    .toSorted((a, b) => b.survival - a.survival)
    .map(({ name, survival }) => {
      lowest = Math.max(lowest + 15, y(survival) + 4.5);
      return `<text class="label" x="${right + 8}" y="${px(lowest)}">${escapeMarkup(shortName(name, 20))}</text>`;
    })
    .join('');
}

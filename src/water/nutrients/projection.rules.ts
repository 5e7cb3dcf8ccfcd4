import { fractionForCeiling } from '../../science/dilution.ts';

/** What is known of a nutrient today: level and net production a day with their uncertainty; canonical units. */
export interface NutrientState {
  level: number;
  levelSd: number;
  /** Below 0 where the water takes more out than feeding brings. */
  production: number;
  productionSd: number;
  cov: number;
  makeUp: number;
}

/** A habit of water changes: part of the water, every so many days. */
export interface Habit {
  fraction: number;
  everyDays: number;
}

/** What is done to a nutrient from today on. */
export interface NutrientPlan {
  /** Changes that come first, and how many; 0 for none. */
  first: Habit & { count: number };
  /** The habit after them. */
  habit: Habit;
  /** What skimming and taking detritus out removes more than now, a day. */
  removed: number;
  /** Feeding against now: 0.25 is a quarter more, -0.1 a tenth less. What feeding brings is taken to change as much. */
  feeding: number;
  /** Dosed a day. */
  dosed: number;
}

/** A level expected, with the interval that holds it 95 times in 100. */
export interface PlanPoint {
  /** Days from now. */
  day: number;
  value: number;
  low: number;
  high: number;
}

/** The level as what stays of today's level, days of production still there, and what was added. */
interface Parts {
  kept: number;
  made: number;
  added: number;
}

/**
 * The level from today on: rises by what is made and dosed less what is removed, and at each change goes to
 * N (1 - f) + s f. Twice on the day of a change: before and after it. Never below 0.
 *
 * @param days how far, 1 to 366
 * Source: conservation of mass; the interval by the propagation of errors of level and production (GUM 5.2.2).
 */
export function followPlan(state: NutrientState, plan: NutrientPlan, days: number): PlanPoint[] {
  const marks = changesOf(plan, days);
  const moments = [
    ...new Set([...Array.from({ length: days + 1 }, (_, i) => i), ...marks.map(({ day }) => day)]),
  ].sort((a, b) => a - b);
  let [parts, at]: [Parts, number] = [{ kept: 1, made: 0, added: 0 }, 0];
  return moments.flatMap((day) => {
    parts = notBelowZero(state, afterDays(plan, parts, day - at));
    at = day;
    const change = marks.find((mark) => mark.day === day);
    const before = pointOf(state, parts, day);
    if (change === undefined) return [before];
    parts = afterChange(state, parts, change.fraction);
    return [before, pointOf(state, parts, day)];
  });
}

function afterDays(
  { feeding, dosed, removed }: NutrientPlan,
  { kept, made, added }: Parts,
  days: number,
): Parts {
  return { kept, made: made + (1 + feeding) * days, added: added + (dosed - removed) * days };
}

function afterChange({ makeUp }: NutrientState, { kept, made, added }: Parts, fraction: number): Parts {
  const stays = 1 - fraction;
  return { kept: kept * stays, made: made * stays, added: added * stays + makeUp * fraction };
}

/** Nothing is taken out that is not there. */
function notBelowZero({ level, production }: NutrientState, parts: Parts): Parts {
  const value = parts.kept * level + parts.made * production + parts.added;
  return value >= 0 ? parts : { ...parts, added: parts.added - value };
}

function pointOf(state: NutrientState, { kept, made, added }: Parts, day: number): PlanPoint {
  const { level, levelSd, production, productionSd, cov } = state;
  const value = Math.max(0, kept * level + made * production + added);
  const variance = (kept * levelSd) ** 2 + (made * productionSd) ** 2 + 2 * kept * made * cov;
  const reach = 1.96 * Math.sqrt(Math.max(0, variance));
  return { day, value, low: Math.max(0, value - reach), high: value + reach };
}

/** The days of the changes: the first ones at once, then the habit; none of no size. */
export function changesOf({ first, habit }: NutrientPlan, days: number): { day: number; fraction: number }[] {
  const marks: { day: number; fraction: number }[] = [];
  let day = 0;
  for (let i = 0; i < (first.fraction > 0 ? first.count : 0) && day <= days; i++) {
    marks.push({ day, fraction: first.fraction });
    day += first.everyDays;
  }
  if (habit.fraction <= 0) return marks;
  const start = marks.length === 0 ? habit.everyDays : (marks.at(-1)?.day ?? 0) + habit.everyDays;
  for (let at = start; at <= days; at += habit.everyDays) marks.push({ day: at, fraction: habit.fraction });
  return marks;
}

/** What becomes of a plan. */
export interface PlanOutcome {
  points: PlanPoint[];
  /** Day from which the level is at the target or beyond it for good, as far as was looked; null where it is not. */
  reachedDay: number | null;
  /** The same by the interval's far end: by then it is so 97 times in 100. */
  surelyDay: number | null;
  /** Mean level that the later habit tends to; null where it goes on rising. */
  tends: number | null;
}

/** A mean this near the target counts as there. */
const near = 0.05;

/** Follows a plan and says when the target is reached. `down`: from above. */
export function outcomeOf(
  state: NutrientState,
  plan: NutrientPlan,
  { target, down, days }: { target: number; down: boolean; days: number },
): PlanOutcome {
  const points = followPlan(state, plan, days);
  const daily = meansOf(points, plan.habit.everyDays);
  const reached = (ends: (point: PlanPoint) => number) => {
    const off = daily.findLastIndex((point) =>
      down ? ends(point) > (1 + near) * target : ends(point) < (1 - near) * target,
    );
    return off === daily.length - 1 ? null : (daily[off + 1]?.day ?? null);
  };
  return {
    points,
    reachedDay: reached(({ value }) => value),
    surelyDay: reached(({ low, high }) => (down ? high : low)),
    tends: tendsTo(state, plan),
  };
}

/** Means over one interval of the habit, so that the saw-tooth does not count as falling back. */
function meansOf(points: readonly PlanPoint[], interval: number): PlanPoint[] {
  const wide = Math.max(1, Math.min(14, interval));
  return points.map((point) => {
    const ahead = points.filter(({ day }) => day >= point.day && day < point.day + wide);
    const mean = (of: (one: PlanPoint) => number) =>
      ahead.reduce((sum, one) => sum + of(one), 0) / ahead.length;
    return {
      day: point.day,
      value: mean((one) => one.value),
      low: mean((one) => one.low),
      high: mean((one) => one.high),
    };
  });
}

/** Net production under a plan, a day. */
const netOf = ({ production }: NutrientState, { feeding, dosed, removed }: NutrientPlan) =>
  production * (1 + feeding) + dosed - removed;

/** The mean of the saw-tooth that the later habit settles to; null where nothing is changed and it rises. */
function tendsTo(state: NutrientState, plan: NutrientPlan): number | null {
  const net = netOf(state, plan);
  const { fraction, everyDays } = plan.habit;
  if (fraction <= 0) return net > 0 ? null : 0;
  return Math.max(0, state.makeUp + (net * everyDays) / fraction - (net * everyDays) / 2);
}

/** Larger changes are hard on the stock; several smaller ones a week are asked for instead (own choice). */
export const largestChange = 0.3;
const weeklyCounts = [1, 2, 3];

/**
 * The habit that holds the mean at the target against the production, less what is removed: the fewest changes a week
 * of at most 30 %. Null where none does, or the make-up water holds as much as the target.
 */
export function holdingHabit(
  { production, makeUp }: Pick<NutrientState, 'production' | 'makeUp'>,
  target: number,
): Habit | null {
  if (target <= makeUp) return null;
  if (production <= 0) return { fraction: 0, everyDays: 7 };
  const habits = weeklyCounts.map((count) => {
    const everyDays = Math.round(70 / count) / 10;
    const made = production * everyDays;
    const ceiling = target + made / 2;
    const enough = made <= ceiling - makeUp;
    return { fraction: enough ? fractionForCeiling(ceiling, makeUp, production, everyDays) : 1, everyDays };
  });
  return habits.find(({ fraction }) => fraction <= largestChange) ?? null;
}

/** How many changes of a size bring the level to the target, with what is made between them; null where they do not. */
export function countToReach(state: NutrientState, habit: Habit, target: number): number | null {
  const made = state.production * habit.everyDays;
  let level = state.level;
  for (let count = 0; count <= 30; count++) {
    if (level <= target) return count;
    const next = (level + (count === 0 ? 0 : made)) * (1 - habit.fraction) + state.makeUp * habit.fraction;
    if (next >= level) return null;
    level = next;
  }
  return null;
}

/**
 * What must be removed a day besides the changes, so that the mean is at the target after `days`; 0 where nothing need
 * be. Negative production is given where it must be added.
 */
export function removalToReach(
  state: NutrientState,
  plan: NutrientPlan,
  target: number,
  days: number,
): number {
  const none = followPlan(state, plan, days);
  const one = followPlan(
    { ...state, level: state.level + 1000 },
    { ...plan, removed: plan.removed + 1 },
    days,
  );
  const same = followPlan({ ...state, level: state.level + 1000 }, plan, days);
  const last = (points: readonly PlanPoint[]) => points.at(-1)?.value ?? 0;
  const perRemoved = last(same) - last(one);
  return perRemoved <= 0 ? 0 : Math.max(0, (last(none) - target) / perRemoved);
}

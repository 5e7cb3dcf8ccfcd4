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

/** Regular water changes: a part of the water, every so many days. */
export interface ChangeSchedule {
  fraction: number;
  everyDays: number;
}

/** What is done to a nutrient from today on. */
export interface NutrientPlan {
  /** Changes that come first, and how many; 0 for none. */
  first: ChangeSchedule & { count: number };
  /** The changes after them. */
  later: ChangeSchedule;
  /** What skimming and taking detritus out removes more than now, a day. */
  removed: number;
  /** Feeding against now: 0.25 is a quarter more, -0.1 a tenth less. What feeding brings is taken to change as much. */
  feeding: number;
  /** Dosed a day. */
  dosed: number;
}

/** The plan that leaves everything as it is: the present water changes, and nothing else. */
export const unchangedPlan = (current: ChangeSchedule): NutrientPlan => ({
  first: { fraction: 0, everyDays: 3, count: 0 },
  later: current,
  removed: 0,
  feeding: 0,
  dosed: 0,
});

/** A level expected, with the interval that holds it 95 times in 100. */
export interface PlanPoint {
  /** Days from now. */
  day: number;
  value: number;
  low: number;
  high: number;
}

/**
 * A level as `kept` x today's level + `produced` x production a day + `added`: the part of today's level still there, the
 * days of production still there, and what else went in.
 */
interface LevelTerms {
  kept: number;
  produced: number;
  added: number;
}

/**
 * The level from today on, one point a day. It rises by production and doses less what is removed, and a water change takes
 * it to N (1 - f) + s f; the day of a change has two points, before and after it. Never below 0.
 *
 * @param days how far, 1 to 366
 * Source: conservation of mass; the interval by the propagation of errors of level and production (GUM 5.2.2).
 */
export function followPlan(state: NutrientState, plan: NutrientPlan, days: number): PlanPoint[] {
  const changes = changesOf(plan, days);
  const moments = [
    ...new Set([...Array.from({ length: days + 1 }, (_, i) => i), ...changes.map(({ day }) => day)]),
  ].sort((a, b) => a - b);
  let terms: LevelTerms = { kept: 1, produced: 0, added: 0 };
  let reached = 0;
  return moments.flatMap((day) => {
    terms = notBelowZero(state, afterDays(plan, terms, day - reached));
    reached = day;
    const change = changes.find((one) => one.day === day);
    const before = pointOf(state, terms, day);
    if (change === undefined) return [before];
    terms = afterChange(state, terms, change.fraction);
    return [before, pointOf(state, terms, day)];
  });
}

function afterDays(
  { feeding, dosed, removed }: NutrientPlan,
  { kept, produced, added }: LevelTerms,
  days: number,
): LevelTerms {
  return { kept, produced: produced + (1 + feeding) * days, added: added + (dosed - removed) * days };
}

function afterChange(
  { makeUp }: NutrientState,
  { kept, produced, added }: LevelTerms,
  fraction: number,
): LevelTerms {
  const stays = 1 - fraction;
  return { kept: kept * stays, produced: produced * stays, added: added * stays + makeUp * fraction };
}

/** Nothing can be removed that is not there. */
function notBelowZero({ level, production }: NutrientState, terms: LevelTerms): LevelTerms {
  const value = terms.kept * level + terms.produced * production + terms.added;
  return value >= 0 ? terms : { ...terms, added: terms.added - value };
}

function pointOf(state: NutrientState, { kept, produced, added }: LevelTerms, day: number): PlanPoint {
  const { level, levelSd, production, productionSd, cov } = state;
  const value = Math.max(0, kept * level + produced * production + added);
  const variance = (kept * levelSd) ** 2 + (produced * productionSd) ** 2 + 2 * kept * produced * cov;
  const reach = 1.96 * Math.sqrt(Math.max(0, variance));
  return { day, value, low: Math.max(0, value - reach), high: value + reach };
}

/** The days of the changes: the first ones from today, then the later ones; changes of size 0 are left out. */
export function changesOf({ first, later }: NutrientPlan, days: number): { day: number; fraction: number }[] {
  const changes: { day: number; fraction: number }[] = [];
  let day = 0;
  for (let i = 0; i < (first.fraction > 0 ? first.count : 0) && day <= days; i++) {
    changes.push({ day, fraction: first.fraction });
    day += first.everyDays;
  }
  if (later.fraction <= 0) return changes;
  const start = changes.length === 0 ? later.everyDays : (changes.at(-1)?.day ?? 0) + later.everyDays;
  for (let at = start; at <= days; at += later.everyDays) changes.push({ day: at, fraction: later.fraction });
  return changes;
}

/** What a plan leads to. */
export interface PlanOutcome {
  points: PlanPoint[];
  /** Day from which the level stays at the target or beyond it, as far as was looked; null where it does not. */
  reachedDay: number | null;
  /** The same for the far end of the interval: by then it is so 97 times in 100. */
  certainDay: number | null;
  /** Mean level that the later changes lead to; null where it goes on rising. */
  settlesAt: number | null;
}

/** A mean within this part of the target counts as reaching it; own choice. */
const tolerance = 0.05;

/** Follows a plan for `days` days and says when the target is reached. `down`: from above. */
export function outcomeOf(
  state: NutrientState,
  plan: NutrientPlan,
  { target, down, days }: { target: number; down: boolean; days: number },
): PlanOutcome {
  const points = followPlan(state, plan, days);
  const means = movingMeans(points, plan.later.everyDays);
  const reachedBy = (endOf: (point: PlanPoint) => number) => {
    const lastOff = means.findLastIndex((point) =>
      down ? endOf(point) > (1 + tolerance) * target : endOf(point) < (1 - tolerance) * target,
    );
    return lastOff === means.length - 1 ? null : (means[lastOff + 1]?.day ?? null);
  };
  return {
    points,
    reachedDay: reachedBy(({ value }) => value),
    certainDay: reachedBy(({ low, high }) => (down ? high : low)),
    settlesAt: settlingLevel(state, plan),
  };
}

/** Means over one interval between changes, so that the swing from change to change does not count as falling back. */
function movingMeans(points: readonly PlanPoint[], interval: number): PlanPoint[] {
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

/** The mean level around which the later changes settle; null where no water is changed and the level rises. */
function settlingLevel(state: NutrientState, plan: NutrientPlan): number | null {
  const net = netOf(state, plan);
  const { fraction, everyDays } = plan.later;
  if (fraction <= 0) return net > 0 ? null : 0;
  return Math.max(0, state.makeUp + (net * everyDays) / fraction - (net * everyDays) / 2);
}

/** The largest change suggested: larger ones are hard on the stock, so several smaller ones a week are suggested instead. Own choice. */
export const largestChange = 0.3;
const weeklyCounts = [1, 2, 3];

/**
 * The changes that hold the mean at the target against the production: the fewest changes a week of at most 30 %. Null
 * where no such changes do, or the make-up water holds as much as the target.
 */
export function holdingSchedule(
  { production, makeUp }: Pick<NutrientState, 'production' | 'makeUp'>,
  target: number,
): ChangeSchedule | null {
  if (target <= makeUp) return null;
  if (production <= 0) return { fraction: 0, everyDays: 7 };
  const schedules = weeklyCounts.map((count) => {
    const everyDays = Math.round(70 / count) / 10;
    const made = production * everyDays;
    const ceiling = target + made / 2;
    const enough = made <= ceiling - makeUp;
    return { fraction: enough ? fractionForCeiling(ceiling, makeUp, production, everyDays) : 1, everyDays };
  });
  return schedules.find(({ fraction }) => fraction <= largestChange) ?? null;
}

/** How many such changes bring the level to the target against the production between them; null where they do not. */
export function countToReach(state: NutrientState, schedule: ChangeSchedule, target: number): number | null {
  const made = state.production * schedule.everyDays;
  let level = state.level;
  for (let count = 0; count <= 30; count++) {
    if (level <= target) return count;
    const next =
      (level + (count === 0 ? 0 : made)) * (1 - schedule.fraction) + state.makeUp * schedule.fraction;
    if (next >= level) return null;
    level = next;
  }
  return null;
}

/** What must be removed a day beside the plan's changes to reach the target after `days`; 0 where nothing need be. */
export function removalToReach(
  state: NutrientState,
  plan: NutrientPlan,
  target: number,
  days: number,
): number {
  const asPlanned = followPlan(state, plan, days);
  // The level falls in proportion to the removal while it stays above 0, so one unit removed from a high level shows how fast.
  const oneRemoved = followPlan(
    { ...state, level: state.level + 1000 },
    { ...plan, removed: plan.removed + 1 },
    days,
  );
  const noneRemoved = followPlan({ ...state, level: state.level + 1000 }, plan, days);
  const last = (points: readonly PlanPoint[]) => points.at(-1)?.value ?? 0;
  const perRemoved = last(noneRemoved) - last(oneRemoved);
  return perRemoved <= 0 ? 0 : Math.max(0, (last(asPlanned) - target) / perRemoved);
}

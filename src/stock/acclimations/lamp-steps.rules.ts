import { type Bearing, strictestPace, usedTo } from './pace.rules.ts';

/** A lot beneath lamps: its light at the setting they have now. */
export interface Beneath extends Bearing {
  dli: number;
  par: number;
  /** False where nobody knows what it is used to, and `accustomed` is what it is taken as. */
  known?: boolean;
}

/** One turn of the lamps. */
export interface LampStep {
  position: number;
  day: number;
  /** Setting, per cent. */
  percent: number;
  /** Codes of the lots that allow no more. */
  bounded: string[];
}

export interface LampPlan {
  steps: LampStep[];
  days: number;
  /** Codes of the lots that bound the first steps, and what the ramp would be without them; null where that gains nothing. */
  slow: { codes: string[]; steps: number; days: number } | null;
  /** Lots that the wished setting would put above their kind's ceiling, with the setting at which they reach it. */
  above: { code: string; percent: number }[];
}

const MAX_STEPS = 80;
/** A turn of less than this part of the setting is not worth one. */
const WORTH = 1.02;

/**
 * The slowest safe ramp of lamps: each setting keeps every lot beneath within its own step of what it is then used
 * to; the stay is that of the strictest. Light goes in proportion to the setting. Settings are whole per cents, and
 * steps are evened out over the fewest that are needed. Downwards as upwards.
 * @param from the setting now, per cent, above 0
 */
export function planLamps(lots: readonly Beneath[], from: number, to: number): LampPlan {
  const steps = evened(lots, from, to);
  const above = lots.flatMap(({ code, par, parCeiling }) =>
    parCeiling !== null && to > from && (par * to) / from > parCeiling * (1 + 1e-9)
      ? [{ code, percent: Math.floor((from * parCeiling) / par) }]
      : [],
  );
  return { steps, days: steps.at(-1)?.day ?? 0, slow: slowest(lots, from, to, steps), above };
}

/** The gentlest steps of as many, and as many days, as the boldest ones need. */
function evened(lots: readonly Beneath[], from: number, to: number): LampStep[] {
  const boldest = ramp(lots, from, to, 1);
  let [low, high, best] = [0, 1, boldest];
  for (let i = 0; i < 10 && boldest.length > 1; i++) {
    const part = (low + high) / 2;
    const tried = ramp(lots, from, to, part);
    const same =
      tried.at(-1)?.percent === boldest.at(-1)?.percent && tried.at(-1)?.day === boldest.at(-1)?.day;
    if (same) [high, best] = [part, tried];
    else low = part;
  }
  return best;
}

function ramp(lots: readonly Beneath[], from: number, to: number, part: number): LampStep[] {
  const { dwellDays } = strictestPace(lots);
  const used = lots.map((lot) => lot.accustomed);
  const steps: LampStep[] = [];
  let percent = from;
  for (let round = 0; round < MAX_STEPS && percent !== to; round++) {
    const next = nextSetting(lots, used, { from, to, percent, part });
    if (next !== null) {
      percent = next.percent;
      steps.push({ position: steps.length + 1, day: round * dwellDays, ...next });
    }
    for (const [i, lot] of lots.entries())
      used[i] = usedTo(used[i] as number, (lot.dli * percent) / from, dwellDays, lot.adaptationDays);
  }
  return steps;
}

function nextSetting(
  lots: readonly Beneath[],
  used: readonly number[],
  { from, to, percent, part }: { from: number; to: number; percent: number; part: number },
): { percent: number; bounded: string[] } | null {
  const up = to > from;
  const bounds = lots.map((lot, i) => {
    const ratio = 1 + (lot.stepRatio - 1) * part;
    const most = up ? (used[i] as number) * ratio : (used[i] as number) / ratio;
    return { code: lot.code, percent: (from * most) / lot.dli };
  });
  const ends = bounds.map((bound) => bound.percent);
  const bound = up ? Math.min(...ends, to) : Math.max(...ends, to);
  const whole = bound === to ? to : up ? Math.floor(bound + 1e-9) : Math.ceil(bound - 1e-9);
  const worth = up ? whole >= percent * WORTH || whole === to : whole <= percent / WORTH || whole === to;
  if (!worth || (up ? whole <= percent : whole >= percent)) return null;
  const close = (end: number) => (up ? end <= bound * 1.01 : end >= bound / 1.01);
  return {
    percent: whole,
    bounded: whole === to ? [] : bounds.filter((one) => close(one.percent)).map((one) => one.code),
  };
}

/** What is gained by moving away the lots that bound the first step. */
function slowest(
  lots: readonly Beneath[],
  from: number,
  to: number,
  steps: readonly LampStep[],
): LampPlan['slow'] {
  const codes = steps[0]?.bounded ?? [];
  const others = lots.filter((lot) => !codes.includes(lot.code));
  if (codes.length === 0 || others.length === 0) return null;
  const without = ramp(others, from, to, 1);
  const [days, all] = [without.at(-1)?.day ?? 0, steps.at(-1)?.day ?? 0];
  return days < all ? { codes, steps: without.length, days } : null;
}

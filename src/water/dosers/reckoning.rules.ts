import { dayMs } from '../../science/numeric/time.ts';

/** Begins the words of a fault that the level in a container showed: the log takes what is short out by itself. */
export const SHORTFALL_BEGINS = 'Doser gives';

/** What a doser is set to give, from a time until another plan took its place. */
export interface DoserPlan {
  fromMs: number;
  /** Null while it runs. */
  untilMs: number | null;
  perDay: number;
  unit: 'mL' | 'minutes' | 'strokes';
}

/** What a doser gave when it was measured: mL a minute, or mL a stroke. */
export interface Calibration {
  ms: number;
  mlPer: number;
  per: 'minute' | 'stroke';
}

/** How much stood in its container: as it was seen, and after it was filled where it was. */
export interface ContainerLevel {
  ms: number;
  /** Litres seen before anything was added; null where nobody looked. */
  seenL: number | null;
  /** Litres from then on. */
  afterL: number;
}

/** All that is known of one doser; each list in the order of time. */
export interface DoserRecord {
  plans: readonly DoserPlan[];
  calibrations: readonly Calibration[];
  /** When it was off for now; `untilMs` null while it still is. */
  off: readonly { fromMs: number; untilMs: number | null }[];
  levels: readonly ContainerLevel[];
  /** What its container takes; null where that is not known. */
  capacityL: number | null;
}

/** One local day, as the zone of the site has it. */
export interface LocalDay {
  day: string;
  startMs: number;
  endMs: number;
}

/** A look into the container, beside what was reckoned. */
export interface LevelCheck {
  ms: number;
  seenL: number;
  reckonedL: number;
  /** What went out since the level before, as measured and as reckoned, mL. */
  measuredMl: number;
  reckonedMl: number;
  /** True where the two differ by more than a level can be read. */
  differs: boolean;
}

export interface Reckoned {
  days: { day: string; ml: number }[];
  checks: LevelCheck[];
  /** Litres left at the end of the last day; null where no level was ever noted. */
  leftL: number | null;
  /** What it gives now for each mL of its plan: another share than 1 where a look into its container said so. */
  share: number;
}

/** A level is read to a fiftieth of the container, and no better than 20 mL; own choice: marks on a canister are that far apart. */
const readTo = { share: 0.02, leastMl: 20 };
/** A difference of two levels is in doubt by the root of two of one (GUM 5.1.2, uncorrelated). */
const tolerance = (capacityL: number | null) =>
  Math.SQRT2 * Math.max(readTo.leastMl, readTo.share * (capacityL ?? 0) * 1000);

/** Calibrated rate at a time: even drift between two calibrations, the first before it, the last after it (own choice). */
function rateAt(calibrations: readonly Calibration[], ms: number): number | null {
  const after = calibrations.findIndex((one) => one.ms > ms);
  const next = calibrations[after];
  const last = after < 0 ? calibrations.at(-1) : calibrations[after - 1];
  if (last === undefined) return next?.mlPer ?? null;
  if (next === undefined) return last.mlPer;
  return last.mlPer + ((next.mlPer - last.mlPer) * (ms - last.ms)) / (next.ms - last.ms);
}

/** mL a day that a plan makes at a time; null where it is in minutes or strokes of which nobody measured one. */
export function perDayAt(
  { calibrations }: Pick<DoserRecord, 'calibrations'>,
  plan: DoserPlan,
  ms: number,
): number | null {
  if (plan.unit !== 'mL') {
    const per = plan.unit === 'minutes' ? 'minute' : 'stroke';
    const rate = rateAt(
      calibrations.filter((one) => one.per === per),
      ms,
    );
    return rate === null ? null : plan.perDay * rate;
  }
  // Set in mL, it runs as long as its newest calibration asks; what it gives drifts with its rate.
  const set = calibrations.findLast((one) => one.ms <= ms);
  if (set === undefined) return plan.perDay;
  const own = calibrations.filter(({ per }) => per === set.per);
  return (plan.perDay * (rateAt(own, ms) ?? set.mlPer)) / set.mlPer;
}

/** A stretch of time in which nothing changes but the drift of the rate. */
interface Piece {
  day: number;
  fromMs: number;
  ml: number;
}

/** What it gives in a stretch, mL: the rate in its middle, less the time it was off. */
function given(record: DoserRecord, fromMs: number, untilMs: number): number {
  let ml = 0;
  for (const plan of record.plans) {
    const [from, until] = [Math.max(fromMs, plan.fromMs), Math.min(untilMs, plan.untilMs ?? untilMs)];
    if (until <= from) continue;
    const offMs = record.off.reduce(
      (sum, off) => sum + Math.max(0, Math.min(until, off.untilMs ?? until) - Math.max(from, off.fromMs)),
      0,
    );
    const perDay = perDayAt(record, plan, (from + until) / 2) ?? 0;
    ml += (perDay * Math.max(0, until - from - offMs)) / dayMs;
  }
  return ml;
}

/** Days cut at the times at which a level or a calibration was noted. */
function piecesOf(record: DoserRecord, days: readonly LocalDay[]): Piece[] {
  const cuts = [...record.levels, ...record.calibrations].map(({ ms }) => ms).sort((a, b) => a - b);
  return days.flatMap(({ startMs, endMs }, day) => {
    const edges = [startMs, ...cuts.filter((ms) => ms > startMs && ms < endMs), endMs];
    return edges.slice(1).map((untilMs, i) => {
      const fromMs = edges[i] as number;
      return { day, fromMs, ml: given(record, fromMs, untilMs) };
    });
  });
}

/**
 * What a doser gave on each of some days that follow each other: its plan at its calibrated rate, less the time it was
 * off. Where a look into its container says otherwise, the days between two looks give what went out, and the days after
 * go on at that share until it is calibrated anew. An empty container gives nothing. Mass balance.
 */
export function reckonDoser(record: DoserRecord, days: readonly LocalDay[]): Reckoned {
  const pieces = piecesOf(record, days);
  const checks: LevelCheck[] = [];
  let carried: { share: number; sinceMs: number } | null = null;
  const startMs = days[0]?.startMs ?? 0;
  const inTime = record.levels.filter(({ ms }) => ms <= (days.at(-1)?.endMs ?? 0));
  const stretches = [null, ...inTime].map((level, i) => ({ level, next: inTime[i] ?? null }));
  const sums = days.map(() => 0);
  let leftMl: number | null = null;
  for (const { level, next } of stretches) {
    const own = pieces.filter(
      ({ fromMs }) => fromMs >= (level?.ms ?? startMs - 1) && (next === null || fromMs < next.ms),
    );
    if (level !== null) leftMl = level.afterL * 1000;
    const held = leftMl;
    const shareAt = (ms: number) =>
      carried !== null && !recalibrated(record, carried.sinceMs, ms) ? carried.share : 1;
    const asked = own.map((piece) => ({ ...piece, ml: piece.ml * shareAt(piece.fromMs) }));
    const measured = held !== null && next?.seenL != null ? held - next.seenL * 1000 : null;
    const emptied = runOut(asked, held);
    const total = emptied.reduce((sum, { ml }) => sum + ml, 0);
    const differs = measured !== null && Math.abs(measured - total) > tolerance(record.capacityL);
    if (measured !== null && next?.seenL != null && held !== null)
      checks.push({
        ms: next.ms,
        seenL: next.seenL,
        reckonedL: (held - total) / 1000,
        measuredMl: measured,
        reckonedMl: total,
        differs,
      });
    const counted = differs && measured !== null ? spread(emptied, Math.max(0, measured), total) : emptied;
    for (const { day, ml } of counted) sums[day] = (sums[day] ?? 0) + ml;
    const base = own.reduce((sum, { ml }) => sum + ml, 0);
    if (differs && measured !== null && base > 0 && next !== null)
      carried = { share: Math.max(0, measured) / base, sinceMs: next.ms };
    if (leftMl !== null) leftMl = Math.max(0, leftMl - counted.reduce((sum, { ml }) => sum + ml, 0));
  }
  return {
    days: days.map(({ day }, i) => ({ day, ml: sums[i] ?? 0 })),
    checks,
    leftL: leftMl === null ? null : leftMl / 1000,
    share:
      carried === null || recalibrated(record, carried.sinceMs, days.at(-1)?.endMs ?? 0) ? 1 : carried.share,
  };
}

const recalibrated = ({ calibrations }: DoserRecord, sinceMs: number, ms: number) =>
  calibrations.some((one) => one.ms > sinceMs && one.ms <= ms);

/** Pieces as long as the container lasts. */
function runOut(pieces: readonly Piece[], heldMl: number | null): Piece[] {
  let left = heldMl ?? Number.POSITIVE_INFINITY;
  return pieces.map((piece) => {
    const ml = Math.min(piece.ml, left);
    left -= ml;
    return { ...piece, ml };
  });
}

/** What was measured, spread over the pieces as they were reckoned; evenly where nothing was. */
function spread(pieces: readonly Piece[], measuredMl: number, totalMl: number): Piece[] {
  return pieces.map((piece) => ({
    ...piece,
    ml: totalMl > 0 ? (piece.ml * measuredMl) / totalMl : measuredMl / pieces.length,
  }));
}

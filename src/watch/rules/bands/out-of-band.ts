import type { Evidence, Finding } from '../../../alerts/finding.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { harmOf } from '../../../water/acute/harm.rules.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { facetEnded } from '../endings/water.ts';
import { departsFromPlan, plannedShift, runningTowards } from '../levels/correction-offset.ts';
import { bearableLevels, hasBearableLevels, safeLevels } from '../levels/danger.ts';
import { type Edges, nearestEdge } from '../levels/edges.ts';
import { levelSinceLastEvent } from '../levels/last-event.ts';
import { beyondByTests, driftOf, isBeyondScale, levelNow } from '../levels/level-against-band.ts';
import { trackLevel } from '../levels/level-filter.ts';
import { factsNow, probeBeyond, probeRunning } from '../levels/probe-now.ts';
import { usualGap } from '../levels/spacing.ts';
import { hoursToAcute } from '../levels/speed.ts';
import { judgeReadings } from '../levels/trusted-readings.ts';
import { study } from '../shared/words.ts';
import { bandDoubt } from './band-doubt.ts';
import { bandFigures } from './figures.ts';
import { bandFinding, type JudgedQuantity } from './out-of-band-words.ts';
import { salinityShare } from './salinity-share.ts';

const parameters = {
  clear: {
    label: 'Alert beyond the edge by so many times the uncertainty',
    unit: 'times',
    default: 1.5,
    low: 0,
    high: 4,
    source: 'own choice: 93 % likely to be outside',
  },
  stays: {
    label: 'Close inside the edge by so many times the uncertainty',
    unit: 'times',
    default: 0.7,
    low: 0,
    high: 4,
    source: 'own choice: 75 % likely to be inside',
  },
  leaving: {
    label: 'Alert when the chance of leaving the band soon is',
    unit: '%',
    default: 50,
    low: 5,
    high: 95,
    source: 'own choice: more likely than not',
  },
  learnt: {
    label: 'Days of tests needed to forecast',
    unit: 'd',
    default: 60,
    low: 14,
    high: 365,
    source: `${study}: an own level is known from about 60 days`,
  },
};

/** Readings older than this no longer move the filter; without them it is quicker. Own choice. */
const historyDays = 200;
const fewestToForecast = 8;
const [shortest, longest] = [7, 28];
/** A level inside its edges is told when it is acute within so many hours, by two tests no further apart than this. Own choice. */
const [runningHours, withinHours] = [6, 12];
/** What other rules judge by themselves. */
const others = ['nitrate'];
/** Its fall has a rule of its own. */
const fallsElsewhere = 'alkalinity';

/** A quantity outside the band it is kept in, or about to leave it. */
export const outOfBand = defineRule({
  name: 'out-of-band',
  heading: 'Out of band',
  watches:
    'Warns when a quantity is outside the target band, beyond test error, or drifts out of it soon; without a band, when it is outside the safe range (temperature, pH, salinity, alkalinity, oxygen). A reading that would be dangerous is to be repeated at once. Calcium, magnesium and alkalinity that only follow the salinity are the salinity’s; what a running correction repairs is not told again.',
  byKind: false,
  parameters,
  quietHours: 2 * 24,
  ended: facetEnded,
  evaluate(facts, settings, now) {
    const values = settings();
    return watchedCodes(facts)
      .map((code) => bandDoubt(facts, code) ?? judgeNow(facts, code, values, now))
      .filter((finding): finding is Finding => finding !== null);
  },
});

type Settings = Values<typeof parameters>;

/** By what is read, and by what a probe shows at this hour where that is beyond the safe range, or runs out of all it showed. */
function judgeNow(facts: SystemFacts, code: string, values: Settings, now: Date): Finding | null {
  const shown = probeBeyond(facts, code, now) ?? probeRunning(facts, code, now);
  const known = shown === null ? facts : factsNow(facts, code, shown);
  const found = judgeReadings(known, code, now, (readings) => judge(known, code, readings, values, now));
  if (found === null || shown === null) return found;
  const ids = new Set(shown.readings.map(({ id }) => id));
  const byProbe = (one: Evidence): Evidence =>
    ids.has(one.id) ? { ...one, kind: 'probe', id: shown.kitId } : one;
  return { ...found, evidence: found.evidence.map(byProbe) };
}

/** What has a band here, and what stock does not bear beyond known edges, band or none. */
function watchedCodes({ kept, readings }: SystemFacts): string[] {
  const banded = [...kept].filter(([, { bandLow, bandHigh }]) => (bandLow ?? bandHigh) !== null);
  const codes = [...banded.map(([code]) => code), ...[...readings.keys()].filter(hasBearableLevels)];
  return [...new Set(codes)].filter((code) => !others.includes(code));
}

/**
 * Whether the last test only says that it saw nothing, or more than its scale, where it could not tell the band from that. More than a
 * scale that ends at the edge is beyond it.
 */
const cannotBeKnown = ({ below, above, value }: ReadingFact, { low, high }: Edges): boolean =>
  (below && value >= low) || (above === true && value < high);

/** The band, and where it is open the edge of the safe range. */
function edgesOf({ kept }: SystemFacts, code: string): Edges {
  const { low, high } = safeLevels(code);
  const own = kept.get(code);
  return { low: own?.bandLow ?? low, high: own?.bandHigh ?? high };
}

function judge(
  facts: SystemFacts,
  code: string,
  all: readonly ReadingFact[],
  values: Settings,
  now: Date,
): Finding | null {
  const today = dayOf(now);
  const readings = ofOneHand(all.filter(({ day }) => day > today - historyDays));
  const last = readings.at(-1);
  if (last === undefined) return null;
  const edges = edgesOf(facts, code);
  if (cannotBeKnown(last, edges)) return null;
  const relied = readings.filter(({ trust }) => trust !== 'unconfirmed');
  const { swing } = bandFigures(code, Number.isFinite(edges.high) ? edges.high : edges.low);
  const shift = plannedShift(facts.corrections, code, today);
  const followed = levelSinceLastEvent(facts, relied.length > 0 ? relied : readings);
  const track = trackLevel(followed, swing, shift);
  if (track === null) return null;
  const level = levelNow(readings, track);
  const gap = usualGap(readings);
  const seen = { facts, code, readings, edges, track, level, now };
  const stale = today - last.day > Math.max(14, 3 * gap);
  const out = outsideByEither(seen, values);
  const found = (out?.status === 'fires' ? out : runsAway(seen)) ?? out ?? leaving(seen, values, gap);
  return found === null || !stale ? found : { ...found, status: 'unknown' };
}

/** Readings of whoever read it most in the last 60 days: farm or laboratory, since two never read quite alike. */
function ofOneHand(readings: readonly ReadingFact[]): ReadingFact[] {
  const end = readings.at(-1)?.day ?? 0;
  const byHand = Map.groupBy(readings, ({ hand }) => hand);
  const recent = (own: readonly ReadingFact[]) => own.filter(({ day }) => day > end - 60).length;
  return [...byHand.values()].sort((a, b) => recent(b) - recent(a))[0] ?? [];
}

/** By the filter of all tests, and where that sees nothing yet by the last two. */
function outsideByEither(seen: JudgedQuantity, values: Settings): Finding | null {
  const out = outside(seen, values);
  if (out?.status === 'fires' || seen.level.from !== 'all tests') return out;
  const level = beyondByTests(seen.readings, seen.edges, seen.track.shift);
  const byTests =
    level === null ? null : outside({ ...seen, level }, { ...values, clear: pairClear * values.clear });
  return byTests?.status === 'fires' ? byTests : out;
}

/** Two tests running, each beyond the edge, need lie this part as far beyond it as the filter; by simulation. */
const pairClear = 0.5;

function outside(seen: JudgedQuantity, values: Settings): Finding | null {
  const { level, edges, code, facts, track, now } = seen;
  const { side, distance, edge } = nearestEdge(level.value, edges);
  const beyond = side === 'above' && isBeyondScale(seen.readings, edge);
  const z = beyond ? Math.max(distance / level.sd, values.clear) : distance / level.sd;
  if (z < -values.stays) return null;
  const correction = runningTowards(facts, code, side, dayOf(now));
  const held =
    correction !== null &&
    !departsFromPlan(correction, track.shift, { ...level, day: track.state.day }, side);
  const bySalt = saltExplains(seen, edge, side);
  const maybeSalt = bySalt === null ? saltExplains(seen, edge, side, true) : null;
  const clear = isDear(code, level.value) ? 0 : values.clear;
  const fires = z >= clear && !held && bySalt === null;
  return bandFinding(
    seen,
    { kind: 'outside', side, edge, distance, z },
    { status: fires ? 'fires' : 'stays', held, bySalt: bySalt ?? maybeSalt },
  );
}

/** Whether waiting for a surer test is dear: outside the safe range by what was read, of what harms within hours. */
const isDear = (code: string, value: number): boolean =>
  harmOf(code) === 'hours' && nearestEdge(value, safeLevels(code)).distance > 0;

/** The salinity, where it alone puts the level outside; `waiting`: the newest test of it, where that is not repeated yet. */
function saltExplains(
  { facts, code, level, now }: JudgedQuantity,
  edge: number,
  side: 'below' | 'above',
  waiting = false,
) {
  const share = salinityShare(facts, code, now, waiting);
  if (share === null) return null;
  const usual = level.value * share.factor;
  const sd = Math.hypot(level.sd * share.factor, level.value * share.u);
  const distance = side === 'below' ? edge - usual : usual - edge;
  const thins = side === 'below' ? share.factor > 1 : share.factor < 1;
  return thins && distance < sd ? { ...share, usual } : null;
}

/** Inside the edges still, and beyond what stock bears within hours at the speed of its last two tests. */
function runsAway(seen: JudgedQuantity): Finding | null {
  const { code, readings, now } = seen;
  const last = readings.at(-1);
  if (last === undefined) return null;
  const since = (dayOf(now) - last.day) * 24;
  for (const side of ['below', 'above'] as const) {
    const hours = hoursToAcute(code, side, readings, withinHours);
    if (hours === null || hours > runningHours || since > runningHours) continue;
    const edge = bearableLevels(code)[side === 'below' ? 'low' : 'high'];
    return bandFinding(
      seen,
      { kind: 'running', side, edge, hours },
      { status: 'fires', held: false, bySalt: null },
    );
  }
  return null;
}

function leaving(seen: JudgedQuantity, values: Settings, gap: number): Finding | null {
  const { track, readings, edges, code, level } = seen;
  const span = (readings.at(-1)?.day ?? 0) - (readings[0]?.day ?? 0);
  if (span < values.learnt || readings.length < fewestToForecast || level.from !== 'all tests') return null;
  const days = Math.round(Math.min(longest, Math.max(shortest, 2 * gap)));
  const drift = driftOf(track, edgesWatched(code, edges), days);
  if (drift === null || drift.chance * 100 < values.leaving / 2) return null;
  const fires = drift.chance * 100 >= values.leaving;
  return bandFinding(
    seen,
    { kind: 'leaving', ...drift },
    { status: fires ? 'fires' : 'stays', held: false, bySalt: null },
  );
}

const edgesWatched = (code: string, edges: Edges): Edges =>
  code === fallsElsewhere ? { ...edges, low: -Infinity } : edges;

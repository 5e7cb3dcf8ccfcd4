import { daysUntilTold, type Watching } from '../../science/control/told-after.ts';
import { alkalinitySlopeOptions, fallingLimit, slopeOptions } from '../../science/filter/slope.ts';
import { convertDifference } from '../../science/units/convert.ts';
import { acuteEdgesBeside } from '../acute/acute-states.rules.ts';
import type { RateNow } from '../demand/supply.rules.ts';
import { upperMedian } from '../estimates/last-test.rules.ts';
import { usualSwing } from '../quantities/usual-swing.ts';
import type { DoseFact, KeptFact, ReadingFact } from '../record/types.ts';

/** The quantities whose tests are weighed: what moves within days or weeks, by causes whose speed can be known. */
export const weighedCodes = [
  'alkalinity',
  'calcium',
  'magnesium',
  'nitrate',
  'phosphate',
  'salinity',
] as const;
export type WeighedCode = (typeof weighedCodes)[number];

/** What is known of one quantity of a system; canonical units. */
export interface TestedQuantity {
  code: WeighedCode;
  plausibleLow: number;
  plausibleHigh: number;
  /** Standing readings by hand, oldest first. */
  readings: readonly ReadingFact[];
  /** Its newest reading is a probe's. */
  hasProbe: boolean;
  kept: KeptFact | undefined;
  /** What the stock uses or makes a day; null for a quantity that has no balance. */
  rate: RateNow | null;
  /** How far apart its tests are planned, days; null where none are. */
  everyDays: number | null;
  /** All of its doses come with those of alkalinity, whose tests tell sooner what befalls them. */
  dosedWithAlkalinity: boolean;
}

/** Something that can go wrong without anybody seeing it, and how fast it moves the level. */
export interface Going {
  kind: 'dose stops' | 'dose doubles' | 'changes stop' | 'top-up stops';
  perDay: number;
  /** Days until the level is where it harms, and in which it has to be told. */
  harmsAfter: number;
  /** False where no level is known at which it harms: then it is a level well beyond the band, by own choice. */
  isHarmKnown: boolean;
  bound: number;
  /** The tests of alkalinity tell it sooner, since both are dosed together: its own need not. */
  toldByAlkalinity: boolean;
  /** Expected days until tests tell it: as planned now (null: not planned, or never), and as proposed. */
  toldNow: number | null;
  toldProposed: number | null;
}

/** How often one quantity is worth testing. */
export interface WeighedTests {
  code: WeighedCode;
  /** Where the level usually stands. */
  level: number;
  now: number | null;
  proposed: number;
  minutes: { now: number; proposed: number };
  /** The worst first: what leaves the least time. */
  goings: readonly [Going, ...Going[]];
  /** Even daily tests tell it later than it should be; closer ones than proposed would not tell it much sooner. */
  isLate: boolean;
}

/** Why nothing is proposed. */
export interface NotWeighed {
  code: WeighedCode;
  unknown: string;
}

/** Intervals that fit a week's work, days: every second week to every day. */
const intervals = [14, 7, 3.5, 7 / 3, 2, 1] as const;
/** A fall of alkalinity is told from tests that are no further apart than ten days. */
const longest: Partial<Record<WeighedCode, number>> = { alkalinity: 7 };
/** It should be told while a third of the time until it harms is left to put it right; own choice. */
const shareOfTime = 2 / 3;
/** Closer tests that tell it sooner by less than this part of the time until it harms are not worth it; own choice. */
const littleSooner = 1 / 5;
/** Hands-on minutes of one test, logging included; own assumption. */
const minutesOf: Readonly<Record<WeighedCode, number>> = {
  ...{ alkalinity: 4, calcium: 5, magnesium: 5, nitrate: 5, phosphate: 6, salinity: 2 },
};
/** Part of the water that evaporates in a day where nobody measured it; common practice for open tanks, 0.5 to 2 %. */
export const evaporates = 0.01;
/** Outside its band by 1.5 of its uncertainties, as the alert on bands asks. */
const clearlyOutside = 0.933;
const fallHorizon = 5;
/** Readings that say where the level usually stands. */
const levelOf = 5;
/** Where no level is known at which it harms, so many times its band's width beyond the band; own choice. */
const beyondBand = 0.5;
/** The same of a band with one end, as a part of it; own choice. */
const beyondEdge = 0.1;

/** So far back doses are looked at, days, and how many there must be; own choice. */
const [dosesOf, fewestDoses] = [28, 5];

/** Whether all doses of a quantity of the last weeks were given with one of alkalinity, of one substance at one time. */
export function isDosedWithAlkalinity(doses: readonly DoseFact[], code: string, today: number): boolean {
  if (code === 'alkalinity') return false;
  const recent = doses.filter(({ day }) => day > today - dosesOf);
  const keyOf = ({ at, substance }: DoseFact) => `${at} ${substance}`;
  const together = new Set(recent.flatMap((one) => (one.quantityCode === 'alkalinity' ? [keyOf(one)] : [])));
  const own = recent.filter(({ quantityCode }) => quantityCode === code);
  return own.length >= fewestDoses && own.every((one) => together.has(keyOf(one)));
}

/** Readings by the farm's own tests: no probe's, no laboratory's. */
export const byHand = (readings: readonly ReadingFact[]): ReadingFact[] =>
  readings.filter(({ probe, hand }) => probe !== true && hand === '');

/** The tests of one quantity that are worth their minutes, or what is not known. */
export function weighTests(tested: TestedQuantity): WeighedTests | NotWeighed {
  const { code, readings, everyDays } = tested;
  if (tested.hasProbe) return { code, unknown: 'a probe reads it' };
  const plain = readings.filter(({ below, above, trust }) => !below && !above && trust !== 'unconfirmed');
  const recent = plain.slice(-levelOf);
  if (recent.length < levelOf) return { code, unknown: `it has fewer than ${levelOf} tests that count` };
  const level = upperMedian(recent.map(({ value }) => value));
  const edges = edgesOf(tested);
  if (edges === null) return { code, unknown: 'it has no band here' };
  if (level < edges.band.low || level > edges.band.high)
    return { code, unknown: 'it is outside its band now: its alert says what to test' };
  const speeds = speedsOf(tested, level);
  if (typeof speeds === 'string') return { code, unknown: speeds };
  const sd = Math.max(1e-9, upperMedian(recent.map(({ u }) => u)));
  const told = (perDay: number, every: number) =>
    daysUntilTold({ level, perDay }, every, watchingOf(tested, { level, sd, perDay, every, ...edges }));
  const goings = speeds
    .map(({ kind, perDay }) => {
      const side = perDay < 0 ? 'low' : 'high';
      const harmsAfter = (edges.harm[side] - level) / perDay;
      const toldByAlkalinity = tested.dosedWithAlkalinity && kind.startsWith('dose');
      return {
        ...{ kind, perDay, harmsAfter, isHarmKnown: edges.isKnown[side], toldByAlkalinity },
        bound: shareOfTime * harmsAfter,
      };
    })
    .filter(({ harmsAfter }) => Number.isFinite(harmsAfter));
  if (goings.length === 0) return { code, unknown: 'its band is open on the side to which it can move' };
  const known = goings
    .filter(({ toldByAlkalinity }) => !toldByAlkalinity)
    .map((going) => ({ ...going, daily: told(going.perDay, 1) }));
  if (known.some(({ daily }) => daily === null))
    return { code, unknown: 'its tests are too coarse to tell so slow a change' };
  const enough = known.map(({ perDay, bound, harmsAfter, daily }) => ({
    perDay,
    within: Math.max(bound, (daily ?? 0) + littleSooner * harmsAfter),
  }));
  const isSoon = (every: number) =>
    enough.every(({ perDay, within }) => (told(perDay, every) ?? Infinity) <= within);
  const possible = intervals.filter((every) => every <= (longest[code] ?? Infinity));
  const proposed = possible.find(isSoon) ?? 1;
  const isLate = known.some(({ daily, bound }) => (daily ?? 0) > bound);
  const all = goings
    .map((going) => ({
      ...going,
      toldNow: everyDays === null ? null : told(going.perDay, everyDays),
      toldProposed: told(going.perDay, proposed),
    }))
    .sort((a, b) => a.bound - b.bound);
  const aWeek = (every: number | null) => (every === null ? 0 : (7 * minutesOf[code]) / every);
  return {
    ...{ code, level, now: everyDays, proposed, isLate },
    minutes: { now: aWeek(everyDays), proposed: aWeek(proposed) },
    goings: all as [Going, ...Going[]],
  };
}

interface TestEdges {
  band: { low: number; high: number };
  /** Where it harms, or a level well beyond the band where that is not known. */
  harm: { low: number; high: number };
  isKnown: { low: boolean; high: boolean };
}

/** The band, and where it harms beyond it; null where neither is known. */
function edgesOf({ code, kept }: TestedQuantity): TestEdges | null {
  const [low, high] = [kept?.bandLow ?? null, kept?.bandHigh ?? null];
  if (low === null && high === null) return null;
  const acute = acuteEdgesBeside(code, { low, high });
  const beyond = (edge: number | null, known: number, side: -1 | 1) => {
    if (Number.isFinite(known) || edge === null) return known;
    const width = low === null || high === null ? beyondEdge * edge : beyondBand * (high - low);
    return edge + side * width;
  };
  return {
    // An open end is watched by the edge beyond which it is acute, as the alert on bands does.
    band: { low: low ?? acute.low, high: high ?? acute.high },
    harm: { low: beyond(low, acute.low, -1), high: beyond(high, acute.high, 1) },
    isKnown: { low: Number.isFinite(acute.low), high: Number.isFinite(acute.high) },
  };
}

type Speed = Pick<Going, 'kind' | 'perDay'>;

/** What can go wrong and how fast it goes, at the fast end of what is known; else what is not known. */
function speedsOf({ code, rate }: TestedQuantity, level: number): Speed[] | string {
  if (code === 'salinity') return [{ kind: 'top-up stops', perDay: level * evaporates }];
  if (rate === null) return 'nothing is known of how fast it moves';
  if (rate.rate === null)
    return `what is ${code === 'nitrate' || code === 'phosphate' ? 'made' : 'used'} a day is not known: ${rate.why}`;
  const { low, high, perDay, dosedPerDay } = rate.rate;
  if (code === 'nitrate' || code === 'phosphate') {
    if (perDay <= 0) return 'no more of it is made than is used up, so nothing raises it by itself';
    return [{ kind: 'changes stop', perDay: high }];
  }
  if (perDay >= 0) return 'no use can be told from the tests';
  if (dosedPerDay <= 0) return [{ kind: 'changes stop', perDay: low }];
  return [
    { kind: 'dose stops', perDay: low },
    { kind: 'dose doubles', perDay: dosedPerDay },
  ];
}

interface Seen extends Pick<TestEdges, 'band'> {
  level: number;
  sd: number;
  perDay: number;
  every: number;
}

function watchingOf(
  { code, plausibleLow, plausibleHigh }: TestedQuantity,
  { level, sd, perDay, every, band }: Seen,
): Watching {
  const perDkh = convertDifference('alkalinity', 1, 'dKH', 'meq/L');
  const options =
    code === 'alkalinity'
      ? alkalinitySlopeOptions(perDkh)
      : slopeOptions(usualSwing(code, level, { plausibleLow, plausibleHigh }));
  const tells =
    code === 'alkalinity' && perDay < 0
      ? { chance: fallingLimit(every, sd / perDkh), ahead: fallHorizon }
      : { chance: clearlyOutside, ahead: 0 };
  return { sd, options, band, tells };
}

/** Minutes a week of what was weighed, as planned now and as proposed. */
export function minutesAWeek(weighed: readonly WeighedTests[]): { now: number; proposed: number } {
  return weighed.reduce(
    ({ now, proposed }, { minutes }) => ({
      now: now + minutes.now,
      proposed: proposed + minutes.proposed,
    }),
    { now: 0, proposed: 0 },
  );
}

export const isWeighed = (one: WeighedTests | NotWeighed): one is WeighedTests => 'proposed' in one;

import type { Finding, Severity } from '../../../alerts/finding.ts';
import { numberWords, plural } from '../../../platform/words/numbers.ts';
import { agoWords } from '../../../platform/words/times.ts';
import { flatness, neighbourNoise, type Sample, spikesOf } from '../../../science/control/probe.ts';
import { isQuantityCode, QUANTITIES } from '../../../science/units.ts';
import { say, sayDifference } from '../../../water/quantities/quantities.ts';
import {
  type KitFact,
  momentOfDay,
  type ProbeFact,
  type QuantityFact,
  type ReadingFact,
} from '../../facts/types.ts';
import { figure, lengthFigure } from '../shared/words.ts';

/** What is set of the rule. */
export interface ProbeParameters {
  silentIntervals: number;
  stuckHours: number;
  impossiblePercent: number;
  noiseTimes: number;
  spikesPercent: number;
}

/** One thing that is wrong with a probe. `score` 1 where it begins to be. */
export interface ProbeFlaw {
  short: string;
  words: string;
  step: string;
  score: number;
  fires: boolean;
  severity: Severity;
  number: Finding['number'];
  limit: Finding['limit'];
  /** It reports no longer, which a device that is gone explains. */
  isSilence?: true;
  /** The samples that show it, where not all do. */
  samples?: readonly Sample[];
}

/** What is known around a probe. */
export interface Around {
  quantity: QuantityFact;
  checks: KitFact['checks'];
  /** Its own daily readings. */
  before: readonly ReadingFact[];
  today: number;
  timeZone: string;
  sources: Readonly<Record<keyof ProbeParameters, string>>;
}

/** An alert stays down to this part of what opened it. */
const staying = 0.7;
/** Fewer samples say nothing of noise. */
const leastSamples = 12;

/** All that is wrong with a probe, the gravest first. */
export function probeFlaws(probe: ProbeFact, parameters: ProbeParameters, around: Around): ProbeFlaw[] {
  const { possible, impossible } = sorted(probe);
  const noise = noisy(possible, probe, parameters, around);
  const flaws = [
    silent(probe, parameters, around),
    cannotBe(probe, impossible, parameters, around),
    noise,
    stuck(possible, parameters, around),
    noise === null ? spiking(possible, probe, parameters, around) : null,
  ];
  return flaws.filter((flaw): flaw is ProbeFlaw => flaw !== null);
}

function sorted({ quantityCode, samples }: ProbeFact) {
  const [low, high] = isQuantityCode(quantityCode)
    ? QUANTITIES[quantityCode].possible
    : [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY];
  const can = ({ value }: Sample) => value >= low && value <= high;
  return { possible: samples.filter(can), impossible: samples.filter((sample) => !can(sample)) };
}

const minutesWords = (minutes: number) =>
  minutes < 120 ? `${Math.round(minutes)} min` : `${numberWords(Math.round(minutes / 60))} h`;

function silent(probe: ProbeFact, { silentIntervals }: ProbeParameters, around: Around): ProbeFlaw | null {
  const { lastDay, everyMinutes, quantityCode } = probe;
  if (lastDay === null) return null;
  const minutes = (around.today - lastDay) * 1440;
  const borne = Math.max(silentIntervals * everyMinutes, 15);
  if (minutes < borne) return null;
  const long = minutes > 60 && (quantityCode === 'temperature' || minutes > 24 * everyMinutes);
  return {
    // Whole hours that have passed, as in "last heard 4 h ago" beside it.
    short: `silent for ${minutesWords(minutes < 120 ? minutes : Math.floor(minutes / 60) * 60)}`,
    words: `last heard ${agoWords(momentOfDay(lastDay), around.timeZone, momentOfDay(around.today))}, reports every ${minutesWords(everyMinutes)}`,
    step: 'Look at its power, its cable and the network.',
    isSilence: true,
    score: 2 ** Math.min(6, Math.floor(Math.log2(minutes / borne) / 2)),
    fires: true,
    severity: long ? 'today' : 'watch',
    number: lengthFigure('Silent for', minutes),
    limit: { ...lengthFigure('Allowed', borne), source: around.sources.silentIntervals },
  };
}

function cannotBe(
  { samples, rejected, taken }: ProbeFact,
  impossible: readonly Sample[],
  { impossiblePercent }: ProbeParameters,
  around: Around,
): ProbeFlaw | null {
  const count = rejected + impossible.length;
  const total = rejected + Math.max(taken, samples.length);
  const share = total === 0 ? 0 : (100 * count) / total;
  if (count < 2 || share < staying * impossiblePercent) return null;
  const worst = impossible.at(-1);
  return {
    short: `${numberWords(share, share < 10 ? 1 : 0)} % of its values cannot be`,
    words: `${numberWords(count)} of ${plural(total, 'value', 'values')} in two days refused as impossible${worst === undefined ? '' : `, like ${say(around.quantity, worst.value)}`}`,
    step: 'Look at the plug, the cable and the probe’s glass or membrane. Put it into a standard.',
    score: 1 + Math.log2(Math.max(1, share / impossiblePercent)),
    fires: share >= impossiblePercent,
    severity: 'today',
    number: figure('Impossible', share, 1, '%'),
    limit: { ...figure('Allowed', impossiblePercent, 1, '%'), source: around.sources.impossiblePercent },
    ...(impossible.length === 0 ? {} : { samples: impossible }),
  };
}

/** Standard deviation of repeated checks of one standard about their mean; null below three. */
function spreadInStandard(checks: KitFact['checks']): number | null {
  const groups = [...Map.groupBy(checks, ({ standard }) => standard).values()].filter(
    (group) => group.length > 1,
  );
  const freedom = groups.reduce((sum, group) => sum + group.length - 1, 0);
  if (freedom < 2) return null;
  const squares = groups.flatMap((group) => {
    const mean = group.reduce((sum, { value }) => sum + value, 0) / group.length;
    return group.map(({ value }) => (value - mean) ** 2);
  });
  return Math.sqrt(squares.reduce((sum, square) => sum + square, 0) / freedom);
}

function noisy(
  samples: readonly Sample[],
  { u }: ProbeFact,
  { noiseTimes }: ProbeParameters,
  { quantity, checks, sources }: Around,
): ProbeFlaw | null {
  if (samples.length < leastSamples) return null;
  const noise = neighbourNoise(samples);
  const standard = spreadInStandard(checks);
  const limit = Math.max(noiseTimes * (standard ?? u), 2 * u);
  if (!(noise >= staying * limit)) return null;
  const at = samples.at(-1)?.value ?? 0;
  const said = (sd: number) => sayDifference(quantity, sd, at);
  const beside = standard === null ? `its own uncertainty is ${said(u)}` : `${said(standard)} in a standard`;
  return {
    short: standard === null ? 'its values jump about' : 'an electrical fault, not the water',
    words: `${said(noise)} from one value to the next in the tank, ${beside}`,
    step:
      standard === null
        ? 'Put it into a standard in a cup: steady there, it is an electrical fault in the tank and not the water.'
        : 'Keep hands out of the water: steady in the standard and wild in the tank, it is an electrical fault. Switch off pumps, lamps and heaters one by one to find what leaks current. Have a licensed electrician mend it.',
    score: noise / limit,
    fires: noise >= limit,
    severity: 'today',
    number: figure(
      'Noise',
      noise / (standard ?? u),
      0,
      standard === null ? 'times its uncertainty' : 'times that in a standard',
    ),
    limit: { ...figure('Allowed', limit / (standard ?? u), 0, 'times'), source: sources.noiseTimes },
  };
}

/** Days of its own history that show what moves. */
const earlierDays = 10;

function stuck(
  samples: readonly Sample[],
  { stuckHours }: ProbeParameters,
  around: Around,
): ProbeFlaw | null {
  const flat = flatness(samples);
  if (flat === null || flat.days * 24 < stuckHours) return null;
  const known = flat.past * 24 >= stuckHours ? flat.days >= 3 * flat.longestBefore : movedBefore(around);
  const hours = flat.days * 24;
  const value = samples.at(-1)?.value ?? Number.NaN;
  if (!known && flat.past > 0) return null;
  return {
    short: `stuck for ${minutesWords(hours * 60)}`,
    words: `has shown ${say(around.quantity, value)} for ${minutesWords(hours * 60)}, longer than ever before`,
    step: 'Take it out, rinse it, put it into a standard and back. See whether the value moves.',
    score: 1 + Math.log2(hours / stuckHours),
    fires: known,
    severity: 'today',
    number: figure('The same for', hours, 0, 'h'),
    limit: { ...figure('Allowed', stuckHours, 0, 'h'), source: around.sources.stuckHours },
  };
}

/** Whether its daily values moved before the two days that are at hand. */
function movedBefore({ before, today }: Around): boolean {
  const earlier = before.filter(({ day }) => day < today - 3).slice(-30);
  return earlier.length >= earlierDays && new Set(earlier.map(({ value }) => value)).size >= earlierDays / 2;
}

function spiking(
  samples: readonly Sample[],
  { u }: ProbeFact,
  { spikesPercent }: ProbeParameters,
  { sources }: Around,
): ProbeFlaw | null {
  if (samples.length < leastSamples) return null;
  const spikes = spikesOf(samples, Math.max(6 * neighbourNoise(samples), 5 * u));
  const share = (100 * spikes.length) / samples.length;
  if (spikes.length < 3 || share < staying * spikesPercent) return null;
  return {
    short: `${numberWords(share, 1)} % of its values are spikes`,
    words: `${plural(spikes.length, 'value stands', 'values stand')} out from their neighbours in two days`,
    step: 'See whether the spikes come when a pump, a heater or a lamp switches. Look at plug and cable.',
    score: share / spikesPercent,
    fires: share >= spikesPercent,
    severity: 'watch',
    number: figure('Spikes', share, 1, '%'),
    limit: { ...figure('Allowed', spikesPercent, 1, '%'), source: sources.spikesPercent },
    samples: spikes,
  };
}

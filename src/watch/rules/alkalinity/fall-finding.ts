import {
  type Advice,
  advised,
  again,
  asking,
  correct,
  measure,
  optimise,
  up,
} from '../../../alerts/advice.ts';
import { type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import { type Crossing, daysToLimit } from '../../../science/statistics/crossing.ts';
import { normalQuantile } from '../../../science/statistics/normal.ts';
import { dosesEndedOn } from '../../../water/demand/silence.rules.ts';
import { dailyAmountWords } from '../../../water/demand/words.rules.ts';
import { say, sayDifference } from '../../../water/quantities/quantities.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import { bottleQuestion } from '../levels/bottle-question.ts';
import type { LevelTrack } from '../levels/level-filter.ts';
import { amount, dateOfDay, percent, quantityNamed, readingEvidence, study } from '../shared/words.ts';
import { type DoseLowered, doseLowered } from './dose-lowered.ts';
import { type MaySwing, swingRule } from './swing-watch.ts';

/** A fall as it is judged. */
export interface Fall {
  track: LevelTrack;
  low: number;
  /** Where the lower edge comes from, where the system has none of its own. */
  lowSource: string;
  /** How likely it is below the edge within the horizon, and from where on that is told. */
  chance: number;
  limit: number;
  perDkh: number;
  status: Finding['status'];
  severity: Severity;
  /** Those it was judged by, oldest first. */
  readings: readonly ReadingFact[];
}

/** Days ahead by which a fall is judged. */
export const horizon = 5;
const shownReadings = 20;
/** A day further ahead than this is not named. */
const farDays = 60;

export const levelOf = ({ state, shift }: LevelTrack): number => state.level + shift(state.day);

/** What is said of a fall; where it may be a swing that is low just now (`swings`), both are named and what suits both is done. */
export function fallFinding(facts: SystemFacts, fall: Fall, swings: MaySwing | null): Finding {
  const { track, low, chance, limit, severity } = fall;
  const quantity = quantityNamed(facts, 'alkalinity');
  const level = levelOf(track);
  const { slope, slopeSd, day } = track.state;
  const crossing = crossingOf(track, low);
  const aDay = (value: number) => `${dailyAmountWords(quantity, value, level)} a day`;
  const own = facts.kept.get('alkalinity')?.bandLow != null;
  const lowered = doseLowered(facts, 'alkalinity', -slope, day);
  // A dose that the log says was lowered by as much is a fall's cause.
  const doubt = lowered === null ? swings : null;
  const goesDown = doubt === null ? 'falls by' : 'went down of late by';
  return {
    ...plainFinding,
    rule: 'alkalinity-falling',
    subject: { type: 'system', id: facts.systemId },
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}`,
    status: fall.status,
    severity,
    score: scoreOf(chance, limit),
    title: `${facts.name}: alkalinity ${moveWords(doubt)}`,
    numbers: `${say(quantity, level)}, ${goesDown} ${aDay(-slope)}; ${reachWords(facts, level, low, crossing, day)}${doubt === null || level <= low ? '' : ', if it falls'}`,
    number: amount(quantity, 'Level now, from all tests', level),
    limit: {
      ...amount(quantity, own ? 'Lower edge of the band' : 'Lower limit', low),
      source: `${own ? (facts.kept.get('alkalinity')?.source ?? '') : `This system has no band of its own; ${fall.lowSource}`}. It alerts from a chance of ${percent(limit)} within ${horizon} days: ${study}.`,
    },
    figures: [
      { label: doubt === null ? 'Falls' : 'Went down of late', text: `${aDay(-slope)}, ± ${aDay(slopeSd)}` },
      {
        label: `Below ${say(quantity, low)} within ${horizon} days${doubt === null ? '' : ', if it falls'}`,
        text: `${percent(chance)} likely`,
      },
      ...(level <= low
        ? []
        : [
            {
              label: doubt === null ? 'Reached' : 'Reached, if it falls',
              text: whenWords(facts, crossing, day),
            },
          ]),
      { label: 'Test uncertainty', text: sayDifference(quantity, track.tests.at(-1)?.sd ?? 0, level) },
      ...(lowered === null
        ? []
        : [{ label: 'Dosed, by the log', text: `${aDay(lowered.lately)}; ${aDay(lowered.before)} before` }]),
      ...(doubt === null ? [] : [evidenceOf(doubt)]),
    ],
    why: whyOf(lowered, doubt),
    ...advised(...(doubt === null ? adviceOnFall(facts, fall, lowered) : adviceOnEither(facts, fall, doubt))),
    question: missingDoses(facts) || bottleQuestion(facts, 'alkalinity'),
    evidence: readingEvidence(quantity, fall.readings.slice(-shownReadings)),
    // A level that swings is low at times: one alert, whose cause is the swing, says how low; never where hours count.
    causes:
      severity === 'now'
        ? []
        : [{ rule: swingRule, subject: { type: 'system', id: facts.systemId }, facet: '' }],
  };
}

function moveWords(doubt: MaySwing | null): string {
  if (doubt === null) return 'falls';
  return doubt.told ? 'swings and may fall' : 'falls or swings';
}

/** What the tests of the last month say of the two, by their odds. */
const evidenceOf = ({ fallOverSwing, told }: MaySwing): Finding['figures'][number] => ({
  label: 'Fall or swing, by the last month',
  text: `${oddsWords(fallOverSwing)}${told ? '; the swing has an alert of its own' : ''}`,
});

function oddsWords(log: number): string {
  const odds = Math.exp(Math.abs(log));
  if (odds < 1.5) return 'as likely the one as the other';
  const times = odds >= 100 ? 'more than 100' : String(Math.round(odds));
  return `${times} to 1 for a ${log > 0 ? 'fall' : 'swing'}`;
}

function whyOf(lowered: DoseLowered | null, doubt: MaySwing | null): string {
  if (doubt !== null)
    return `The last tests go down. Whether the water falls, or swings and is low just now, is not known yet${doubt.told ? ': that it swings is told by itself, and it may fall as well' : ''}. A larger daily dose is right for a fall alone; a swing it would take too high.`;
  return `The tests together show it before one of them looks low; a fixed limit would say so on the day it is passed.${lowered === null ? '' : ' The doses in the log became lower by about as much as it falls: that would explain it.'}`;
}

const lookAtSupply = asking(
  'doser',
  measure('Look at what supplies it: doser line, container, calibration, limewater.'),
);

const bottleSteps: readonly Advice[] = [
  asking('standard', measure('Ask whether a new bottle was opened that nobody entered.')),
  asking('standard', measure('Test a standard with the bottle in use before you dose.')),
];

const aStep = (facts: SystemFacts, { track, perDkh }: Fall): string =>
  sayDifference(quantityNamed(facts, 'alkalinity'), perDkh, levelOf(track));

function adviceOnFall(facts: SystemFacts, fall: Fall, lowered: DoseLowered | null): Advice[] {
  return [
    lowered === null
      ? lookAtSupply
      : measure('Ask who lowered the daily dose. If nobody did, look at the doser.'),
    isRepeated(fall.readings)
      ? asking('standard', measure('Test with another kit too, if there is one.'))
      : asking('test', measure('Test once more, with another kit if there is one.')),
    ...bottleSteps,
    correct(
      `Raise it slowly, by at most ${aStep(facts, fall)} a day, and only on a confirmed reading.`,
      up('level', 'alkalinity', 'slow'),
    ),
    optimise(
      'Raise the daily dose to what is used, if nothing is wrong with what supplies it.',
      up('dose', 'alkalinity'),
    ),
  ];
}

/**
 * What is right whether it falls or swings: the look at the supply, a test at the same hour on the next two days, which tells them
 * apart better than two on one day, and no larger daily dose. A level at its edge is raised to it by hand.
 */
function adviceOnEither(facts: SystemFacts, fall: Fall, { told }: MaySwing): Advice[] {
  const edge = say(quantityNamed(facts, 'alkalinity'), fall.low);
  return [
    lookAtSupply,
    asking('test', measure('Test once more, with another kit if there is one.')),
    ...bottleSteps,
    measure('Leave the daily dose as it is on this alone.'),
    ...(fall.severity === 'now'
      ? [
          correct(
            `Raise it by hand to ${edge} and no higher, once a second test says that it is below. Raise it by at most ${aStep(facts, fall)} a day.`,
            up('level', 'alkalinity', 'slow'),
          ),
        ]
      : []),
    again(
      told
        ? 'Test at the same hour for three days: what goes on down falls as well.'
        : 'Test at the same hour tomorrow and the day after: a fall goes on, a swing comes back.',
    ),
  ];
}

/** A test this soon after another is its repeat; days. */
const repeatWithin = 3 / 24;

/** Whether the last test was repeated, by what settled it or by a second one within hours. */
function isRepeated(readings: readonly ReadingFact[]): boolean {
  const [before, last] = readings.slice(-2);
  if (last === undefined) return false;
  return last.trust === 'confirmed' || (before !== undefined && last.day - before.day <= repeatWithin);
}

/** Asks after doses that were usual and of which none is logged any more; '' where the log goes on, or there never was one. */
function missingDoses(facts: SystemFacts): string {
  const doses = facts.doses.filter(({ quantityCode }) => quantityCode === 'alkalinity');
  const last = facts.readings.get('alkalinity')?.at(-1)?.day;
  const ended = last === undefined ? null : dosesEndedOn(doses, last);
  return ended === null
    ? ''
    : `No dose of it is logged since ${dateOfDay(ended, facts)}: was none given, or was it not written down?`;
}

export function crossingOf({ state, shift }: LevelTrack, low: number): Crossing {
  const { level, levelSd, slope, slopeSd, levelSlopeCov } = state;
  const moving = { level, levelSd, perDay: slope, sd: slopeSd, cov: levelSlopeCov };
  return daysToLimit(moving, low - shift(state.day), 0.8);
}

/** Distance of the forecast from the limit, in its own uncertainty: about a quarter more for each 1.3 of it. */
function scoreOf(chance: number, limit: number): number {
  const z = (p: number) => normalQuantile(Math.min(1 - 1e-9, Math.max(1e-9, p)));
  return Math.exp((z(chance) - z(Math.min(0.9, limit))) / 6);
}

function reachWords(facts: SystemFacts, level: number, low: number, crossing: Crossing, day: number): string {
  const edge = say(quantityNamed(facts, 'alkalinity'), low);
  if (level <= low) return `already below ${edge}`;
  if (crossing.days === null || crossing.days > farDays)
    return `${edge} may be passed within ${horizon} days`;
  return `${edge} is reached about ${dateOfDay(day + crossing.days, facts)}`;
}

/** "about 9 Jan 2027; 80 % likely between 7 Jan 2027 and 14 Jan 2027". */
function whenWords(facts: SystemFacts, { days, earliest, latest }: Crossing, day: number): string {
  const on = (ahead: number) => (ahead > farDays ? 'in more than two months' : dateOfDay(day + ahead, facts));
  if (days === null || days > farDays) return 'not within two months, if it goes on as now';
  if (days <= 0) return 'already';
  const until = latest === null || latest > farDays ? 'later or never' : on(latest);
  return `about ${on(days)}; 80 % likely between ${on(earliest)} and ${until}`;
}

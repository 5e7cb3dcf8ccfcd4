import {
  advised,
  asking,
  correct,
  measure,
  noted,
  notUp,
  optimise,
  source,
  up,
} from '../../../alerts/advice.ts';
import { type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import { scales } from '../../../platform/units/scales.ts';
import { fallingLimit } from '../../../science/filter/slope.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { type Crossing, daysToLimit } from '../../../science/statistics/crossing.ts';
import { normalQuantile } from '../../../science/statistics/normal.ts';
import { convert, convertDifference } from '../../../science/units/convert.ts';
import { dosesEndedOn } from '../../../water/demand/silence.rules.ts';
import { dailyAmountWords } from '../../../water/demand/words.rules.ts';
import { steeperRun } from '../../../water/estimates/steeper-run.rules.ts';
import { say, sayDifference } from '../../../water/quantities/quantities.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { dropsOut } from '../chemistry/precipitation.ts';
import { waterEnded } from '../endings/water.ts';
import { bottleQuestion } from '../levels/bottle-question.ts';
import { plannedShift } from '../levels/correction-offset.ts';
import { levelSinceLastEvent } from '../levels/last-event.ts';
import { chanceOutside, comesBack, type LevelTrack, trackLevel } from '../levels/level-filter.ts';
import { lowerMiddle, usualGap } from '../levels/spacing.ts';
import { judgeReadings } from '../levels/trusted-readings.ts';
import { amount, dateOfDay, percent, quantityNamed, readingEvidence, study } from '../shared/words.ts';
import { doseLowered } from './dose-lowered.ts';

const parameters = {
  caution: {
    label: 'How likely below the band in five days before an alert (1: as tuned; more: fewer alerts)',
    unit: 'times',
    default: 1,
    low: 0.2,
    high: 5,
    source: `${study}: 1 is a chance of 7 % (daily, 0.1 dKH) to 45 % by the gap between tests and their error, about one false alert in ten years and system`,
  },
  stays: {
    label: 'Close when less likely than (same scale)',
    unit: 'times',
    default: 0.4,
    low: 0,
    high: 1,
    source: 'own choice: clearly below what opens it',
  },
  certain: {
    label: 'Count as a fall from so many times its uncertainty',
    unit: 'times',
    default: 1,
    low: 0,
    high: 3,
    source: 'own choice: a level that lies near the limit without falling is no fall',
  },
  floor: {
    label: 'Lower limit where the system has none',
    unit: 'dKH',
    scale: scales.dKH,
    default: 7,
    low: 4,
    high: 12,
    source: 'chemistry article and marine guide, common practice: 7 to 11 dKH',
  },
  learnt: {
    label: 'Tests needed first',
    unit: 'tests',
    default: 8,
    low: 4,
    high: 60,
    source: 'own choice: fewer do not tell a slope from the tests’ error',
  },
  soon: {
    label: 'Act now when it reaches the limit within',
    unit: 'd',
    default: 2,
    low: 0,
    high: 14,
    source: 'own choice: two days leave time for one careful step a day',
  },
};

const horizon = 5;
/** Bottles that read a little differently look like small falls: the chance asked for is larger by this, and at most that (simulation study). */
const [bottleCaution, mostChance] = [1.5, 0.45];
/** A run of tests that is steeper than the level followed tells by itself where it is as likely as this: level and slope were not tuned for it. Own choice. */
const surely = 0.75;
/** Short swing of the water that the study was tuned at, dKH. */
const usualSwing = 0.12;
/** A slope is told from readings that are not further apart than this. */
const widestGap = 10;
const historyDays = 150;
const shownReadings = 20;
/** A day further ahead than this is not named. */
const farDays = 60;

/** Alkalinity that falls towards the lower edge of its band. */
export const alkalinityFalling = defineRule({
  name: 'alkalinity-falling',
  heading: 'Alkalinity falling',
  watches:
    'Follows level and slope of alkalinity and alerts when it may well be below the band within five days. A kit that reads wrong and a planned lowering are taken out first.',
  byKind: false,
  parameters,
  quietHours: 3 * 24,
  ended: waterEnded('alkalinity'),
  evaluate(facts, settings, now) {
    const values = settings();
    const judged = (readings: readonly ReadingFact[]) => judge(facts, readings, values, now);
    const finding = judgeReadings(facts, 'alkalinity', now, judged, 'both');
    if (finding === null) return [];
    return [dropsOut(facts, settings, now) ? { ...finding, ...whileCarbonateDropsOut(facts) } : finding];
  },
});

/** Water that drops carbonate is given no more of it: its own finding says what to do. */
const whileCarbonateDropsOut = (facts: SystemFacts): Pick<Finding, 'advice' | 'firstStep' | 'causes'> => ({
  ...advised(
    noted(
      source(
        'Raise nothing yet. Follow the alert on carbonate that drops out first.',
        notUp('dose', 'alkalinity'),
      ),
      'Calcium falls with it while doses go on, so carbonate seems to drop out of the water.',
    ),
  ),
  causes: [{ rule: 'precipitation', subject: { type: 'system', id: facts.systemId }, facet: '' }],
});

interface Judged {
  track: LevelTrack;
  low: number;
  chance: number;
  limit: number;
  perDkh: number;
}

function judge(
  facts: SystemFacts,
  readings: readonly ReadingFact[],
  values: Values<typeof parameters>,
  now: Date,
): Finding | null {
  const today = dayOf(now);
  const recent = readings.filter(({ day }) => day > today - historyDays);
  const perDkh = convertDifference('alkalinity', 1, 'dKH', 'meq/L');
  const shift = plannedShift(facts.corrections, 'alkalinity', today);
  const followed = trackLevel(levelSinceLastEvent(facts, recent), usualSwing * perDkh, shift);
  if (followed === null || recent.length < values.learnt) return null;
  const run = steeperRun(followed.tests, followed.state);
  const track = run === null ? followed : { ...followed, state: run };
  const { state, tests } = track;
  const gap = usualGap(recent);
  const usualLimit = fallingLimit(gap, lowerMiddle(tests.slice(-60).map(({ sd }) => sd)) / perDkh);
  const limit = Math.min(mostChance, usualLimit * (changesBottles(recent) ? bottleCaution : 1));
  const low = facts.kept.get('alkalinity')?.bandLow ?? convert('alkalinity', values.floor, 'dKH', 'meq/L');
  // Above the band a fall is what is wanted.
  const high = facts.kept.get('alkalinity')?.bandHigh ?? null;
  if (high !== null && state.level + track.shift(state.day) > high) return null;
  const below = (of: LevelTrack) => chanceOutside(of, { low, high: Number.POSITIVE_INFINITY }, horizon).below;
  const [tuned, chance] = [below(followed), below(track)];
  if (Math.max(tuned, chance) < values.stays * limit || state.slope >= 0 || gap > widestGap) return null;
  const stale = today - state.day > Math.max(horizon, 2 * gap);
  const likely = tuned >= values.caution * limit || (run !== null && chance >= surely);
  const steep = likely && -state.slope >= values.certain * state.slopeSd;
  const falls = steep && !comesBack(track, 'below');
  const status = stale ? 'unknown' : falls ? 'fires' : 'stays';
  return finding(
    facts,
    recent,
    { track, low, chance, limit: values.caution * limit, perDkh },
    status,
    values,
  );
}

/** Whether several bottles of a test made these readings. */
const changesBottles = (readings: readonly ReadingFact[]): boolean =>
  new Set(readings.flatMap(({ kitId }) => (kitId === null ? [] : [kitId]))).size > 1;

function finding(
  facts: SystemFacts,
  readings: readonly ReadingFact[],
  { track, low, chance, limit, perDkh }: Judged,
  status: Finding['status'],
  values: Values<typeof parameters>,
): Finding {
  const quantity = quantityNamed(facts, 'alkalinity');
  const level = track.state.level + track.shift(track.state.day);
  const { slope, slopeSd, day } = track.state;
  const crossing = crossingOf(track, low);
  const aDay = (value: number) => `${dailyAmountWords(quantity, value, level)} a day`;
  const own = facts.kept.get('alkalinity')?.bandLow != null;
  const severity = severityOf(level, low, crossing, values);
  const lowered = doseLowered(facts, 'alkalinity', -slope, day);
  return {
    ...plainFinding,
    rule: 'alkalinity-falling',
    subject: { type: 'system', id: facts.systemId },
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}`,
    status,
    severity,
    score: scoreOf(chance, limit),
    title: `${facts.name}: alkalinity falls`,
    numbers: `${say(quantity, level)}, falls by ${aDay(-slope)}; ${reachWords(facts, level, low, crossing, day)}`,
    number: amount(quantity, 'Level now, from all tests', level),
    limit: {
      ...amount(quantity, own ? 'Lower edge of the band' : 'Lower limit', low),
      source: `${own ? (facts.kept.get('alkalinity')?.source ?? '') : `This system has no band of its own; ${parameters.floor.source}`}. It alerts from a chance of ${percent(limit)} within ${horizon} days: ${study}.`,
    },
    figures: [
      { label: 'Falls', text: `${aDay(-slope)}, ± ${aDay(slopeSd)}` },
      { label: `Below ${say(quantity, low)} within ${horizon} days`, text: `${percent(chance)} likely` },
      ...(level <= low ? [] : [{ label: 'Reached', text: whenWords(facts, crossing, day) }]),
      { label: 'Test uncertainty', text: sayDifference(quantity, track.tests.at(-1)?.sd ?? 0, level) },
      ...(lowered === null
        ? []
        : [{ label: 'Dosed, by the log', text: `${aDay(lowered.lately)}; ${aDay(lowered.before)} before` }]),
    ],
    why: `The tests together show it before one of them looks low; a fixed limit would say so on the day it is passed.${lowered === null ? '' : ' The doses in the log became lower by about as much as it falls: that would explain it.'}`,
    ...advised(
      ...(lowered === null
        ? [
            asking(
              'doser',
              measure('Look at what supplies it: doser line, container, calibration, limewater.'),
            ),
          ]
        : [measure('Ask who lowered the daily dose. If nobody did, look at the doser.')]),
      isRepeated(readings)
        ? asking('standard', measure('Test with another kit too, if there is one.'))
        : asking('test', measure('Test once more, with another kit if there is one.')),
      measure('Ask whether a new bottle was opened that nobody entered.'),
      asking('standard', measure('Test a standard with the bottle in use before you dose.')),
      correct(
        `Raise it slowly, by at most ${sayDifference(quantity, perDkh, level)} a day, and only on a confirmed reading.`,
        up('level', 'alkalinity', 'slow'),
      ),
      optimise(
        'Raise the daily dose to what is used, if nothing is wrong with what supplies it.',
        up('dose', 'alkalinity'),
      ),
    ),
    question: missingDoses(facts) || bottleQuestion(facts, 'alkalinity'),
    evidence: readingEvidence(quantity, readings.slice(-shownReadings)),
    // A level that swings is low at times: one alert, whose cause is the swing, says how low; never where hours count.
    causes:
      severity === 'now'
        ? []
        : [{ rule: 'alkalinity-unsteady', subject: { type: 'system', id: facts.systemId }, facet: '' }],
  };
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

function crossingOf({ state, shift }: LevelTrack, low: number): Crossing {
  const { level, levelSd, slope, slopeSd, levelSlopeCov } = state;
  const moving = { level, levelSd, perDay: slope, sd: slopeSd, cov: levelSlopeCov };
  return daysToLimit(moving, low - shift(state.day), 0.8);
}

function severityOf(
  level: number,
  low: number,
  { days }: Crossing,
  { soon }: Values<typeof parameters>,
): Severity {
  return level <= low || (days !== null && days <= soon) ? 'now' : 'today';
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

import { advised, hold, measure, noted, notUp, source } from '../../../alerts/advice.ts';
import type { Finding, Severity } from '../../../alerts/finding.ts';
import { scales } from '../../../platform/units/scales.ts';
import { fallingLimit } from '../../../science/filter/slope.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { convert, convertDifference } from '../../../science/units/convert.ts';
import { steeperRun } from '../../../water/estimates/steeper-run.rules.ts';
import { say } from '../../../water/quantities/quantities.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { type Thinned, thinnedBy } from '../bands/salinity-share.ts';
import { dropsOut } from '../chemistry/precipitation.ts';
import { waterEnded } from '../endings/water.ts';
import { plannedShift } from '../levels/correction-offset.ts';
import { bearableLevels } from '../levels/danger.ts';
import { levelSinceLastEvent } from '../levels/last-event.ts';
import { chanceOutside, comesBack, type LevelTrack, trackLevel } from '../levels/level-filter.ts';
import { lowerMiddle, usualGap } from '../levels/spacing.ts';
import { judgeReadings } from '../levels/trusted-readings.ts';
import { quantityNamed, study } from '../shared/words.ts';
import { crossingOf, type Fall, fallFinding, horizon, levelOf } from './fall-finding.ts';
import { maySwing, swingParameters, swingRule } from './swing-watch.ts';

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

/** Bottles that read a little differently look like small falls: the chance asked for is larger by this, and at most that (simulation study). */
const [bottleCaution, mostChance] = [1.5, 0.45];
/** A run of tests that is steeper than the level followed tells by itself where it is as likely as this: level and slope were not tuned for it. Own choice. */
const surely = 0.75;
/** Short swing of the water that the study was tuned at, dKH. */
const usualSwing = 0.12;
/** A slope is told from readings that are not further apart than this. */
const widestGap = 10;
const historyDays = 150;

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
    const swing = settings.of({ name: swingRule, parameters: swingParameters })();
    const judged = (readings: readonly ReadingFact[]) => {
      const fall = judge(facts, readings, values, now);
      return fall === null ? null : fallFinding(facts, fall, maySwing(facts, readings, swing, now));
    };
    const finding = judgeReadings(facts, 'alkalinity', now, judged, 'both');
    if (finding === null) return [];
    const thinned = isAcute(facts) ? null : thinnedBy(facts, now);
    if (thinned !== null) return [{ ...finding, ...whileWaterIsThin(facts, thinned) }];
    return [dropsOut(facts, settings, now) ? { ...finding, ...whileCarbonateDropsOut(facts) } : finding];
  },
});

/** Whether it stands lower than stock bears, whatever took it there. */
const isAcute = ({ readings }: SystemFacts): boolean => {
  const last = readings.get('alkalinity')?.at(-1);
  return last !== undefined && last.value < bearableLevels('alkalinity').low;
};

/** Water that thinned took the alkalinity down with its salt: a dose would take it too far once the salt is back. */
function whileWaterIsThin(
  facts: SystemFacts,
  { salinity, waits }: Thinned,
): Pick<Finding, 'advice' | 'firstStep' | 'causes'> {
  const salt = say(quantityNamed(facts, 'salinity'), salinity);
  return {
    ...advised(
      noted(
        waits
          ? measure(
              'Test the salinity again now, with a second instrument. Raise nothing until it is known.',
              hold('level', 'alkalinity'),
              notUp('dose', 'alkalinity'),
            )
          : source(
              'Set the salinity right first, slowly. Then test alkalinity again before anything is raised.',
              hold('level', 'alkalinity'),
              notUp('dose', 'alkalinity'),
            ),
        `The salinity reads ${salt}${waits ? ', not repeated yet' : ''}: what is dissolved goes down with it, and comes back with it.`,
      ),
    ),
    causes: [
      {
        rule: 'out-of-band',
        subject: { type: 'system', id: facts.systemId },
        facet: 'salinity',
      },
    ],
  };
}

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

function judge(
  facts: SystemFacts,
  readings: readonly ReadingFact[],
  values: Values<typeof parameters>,
  now: Date,
): Fall | null {
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
  const severity = severityOf(track, low, values);
  return {
    track,
    low,
    chance,
    limit: values.caution * limit,
    perDkh,
    status,
    severity,
    lowSource: parameters.floor.source,
    readings: recent,
  };
}

/** Whether several bottles of a test made these readings. */
const changesBottles = (readings: readonly ReadingFact[]): boolean =>
  new Set(readings.flatMap(({ kitId }) => (kitId === null ? [] : [kitId]))).size > 1;

/** Below the limit, or there before anybody can lift it with care. */
function severityOf(track: LevelTrack, low: number, { soon }: Values<typeof parameters>): Severity {
  const { days } = crossingOf(track, low);
  return levelOf(track) <= low || (days !== null && days <= soon) ? 'now' : 'today';
}

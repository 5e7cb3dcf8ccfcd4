import type { Finding } from '../../../alerts/finding.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { waterEnded } from '../endings/water.ts';
import { withoutKitBias } from '../levels/kit-bias.ts';
import { judgeReadings } from '../levels/trusted-readings.ts';
import { depletedFor } from './depletion.ts';
import { highFinding, noPhosphorusFinding, starvedFinding } from './level-words.ts';
import { clearly, nitrateAgainstEdge } from './raised.ts';

const parameters = {
  trouble: {
    label: 'Too high from, where the system has no upper limit',
    unit: 'mg/L as NO₃',
    default: 30,
    low: 1,
    high: 200,
    source: 'practice of growers, no source: trouble from about 30 to 40',
  },
  grave: {
    label: 'Act now from',
    unit: 'mg/L as NO₃',
    default: 40,
    low: 1,
    high: 400,
    source: 'practice of growers, no source: trouble from about 30 to 40',
  },
  lowest: {
    label: 'Too low at, where the system has no lower limit',
    unit: 'mg/L as NO₃',
    default: 0.5,
    low: 0,
    high: 10,
    source:
      'own choice: the detection limit of usual photometers; targets differ a hundredfold between articles',
  },
  weeks: {
    label: 'Alert after weeks without nitrate or phosphate',
    unit: 'weeks',
    default: 3,
    low: 1,
    high: 12,
    source: 'own choice: a week or two without is common and harmless',
  },
  nitrogen: {
    label: 'Nitrate is there from, when phosphate is missing',
    unit: 'mg/L as NO₃',
    default: 2,
    low: 0.2,
    high: 20,
    source: 'own choice: clearly above detection; the experiments ran far below tank values',
  },
  phosphorus: {
    label: 'Phosphate is missing at or below',
    unit: 'mg/L as PO₄',
    default: 0.02,
    low: 0.001,
    high: 0.1,
    source:
      'Int. J. Mol. Sci. 24 (2023) 3119: 0.2 µmol/L, 0.019 mg/L, was its scarce phosphate; detection limit of pocket photometers',
  },
};

type NitrateLevelSettings = Values<typeof parameters>;

/** Nitrate too high, starved, or there without phosphate. */
export const nitrateLevel = defineRule({
  name: 'nitrate-level',
  heading: 'Nitrate level',
  watches:
    'Warns when nitrate is clearly above its edge, when there has been none for weeks, and when there is nitrate but for weeks no phosphate. Readings below detection count as what they are.',
  byKind: false,
  parameters,
  quietHours: 7 * 24,
  ended: waterEnded('nitrate', 'phosphate'),
  evaluate(facts, settings, now) {
    const values = settings();
    const high = judgeReadings(facts, 'nitrate', now, (readings) => judgeHigh(facts, readings, values, now));
    const { readings } = withoutKitBias(facts, 'nitrate', facts.readings.get('nitrate') ?? []);
    const others = [judgeStarved(facts, readings, values, now), judgePair(facts, readings, values, now)];
    return [high, ...others].filter((finding): finding is Finding => finding !== null);
  },
});

/** Within this of the edge it stays, over its own uncertainty. */
const stays = -0.7;

function judgeHigh(
  facts: SystemFacts,
  readings: readonly ReadingFact[],
  values: NitrateLevelSettings,
  now: Date,
): Finding | null {
  const found = nitrateAgainstEdge(facts, readings, now, values.trouble);
  if (found === null || found.z < stays) return null;
  return highFinding(facts, readings, found, found.z >= clearly, values, now);
}

function judgeStarved(
  facts: SystemFacts,
  readings: readonly ReadingFact[],
  values: NitrateLevelSettings,
  now: Date,
): Finding | null {
  const low = facts.kept.get('nitrate')?.bandLow ?? values.lowest;
  const scarcity = depletedFor(readings, low, 7 * values.weeks, now);
  return scarcity === null ? null : starvedFinding(facts, scarcity, low, values, now);
}

function judgePair(
  facts: SystemFacts,
  nitrate: readonly ReadingFact[],
  values: NitrateLevelSettings,
  now: Date,
): Finding | null {
  const found = nitrateAgainstEdge(
    facts,
    nitrate.filter(({ trust }) => trust !== 'unconfirmed'),
    now,
    values.trouble,
  );
  if (found === null || found.stale) return null;
  const { value, sd } = found.level;
  if (value < values.nitrogen) return null;
  const scarcity = depletedFor(
    facts.readings.get('phosphate') ?? [],
    values.phosphorus,
    7 * values.weeks,
    now,
  );
  if (scarcity === null) return null;
  const there = value - sd >= values.nitrogen;
  return noPhosphorusFinding(facts, { ...scarcity, sure: scarcity.sure && there }, value, values, now);
}

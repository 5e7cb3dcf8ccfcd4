import type { Finding } from '../../../alerts/finding.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { waterEnded } from '../endings/water.ts';
import { noShift } from '../levels/correction-offset.ts';
import { levelSinceLastEvent } from '../levels/last-event.ts';
import { type Level, levelNow } from '../levels/level-against-band.ts';
import { trackLevel } from '../levels/level-filter.ts';
import { judgeReadings } from '../levels/trusted-readings.ts';
import { type AmmoniaShare, shareAt } from './ammonia-share.ts';
import { ammoniaFinding } from './ammonia-words.ts';

const parameters = {
  total: {
    label: 'Alert from total ammonia of',
    unit: 'mg/L as N',
    default: 0.1,
    low: 0.01,
    high: 5,
    source: 'chemistry article, common practice: below 0.1',
  },
  lasting: {
    label: 'Un-ionised ammonia that harms if it lasts',
    unit: 'mg/L as N',
    default: 0.029,
    low: 0.001,
    high: 1,
    source:
      'own choice: about a third of 0.08, at which no soft coral (Xenia) died in four days (Arq. Cienc. Mar 57, 2024)',
  },
  acute: {
    label: 'Act now from un-ionised ammonia of',
    unit: 'mg/L as N',
    default: 0.08,
    low: 0.002,
    high: 2,
    source: 'Arq. Cienc. Mar 57 (2024): no soft coral (Xenia) died at 0.08 in four days, half died at 0.28',
  },
};

type AmmoniaSettings = Values<typeof parameters>;

/** Ammonia comes and goes within days; what is older says nothing. Own choice. */
const historyDays = 120;
/** Usual short swing, mg/L as N; own choice. */
const swing = 0.01;
/** Beyond a limit with a probability of 93 %, and inside with three in four. */
const [clear, stays] = [1.5, -0.7];
const staleDays = 14;

/** Ammonia, total and its poisonous part. */
export const ammonia = defineRule({
  name: 'ammonia',
  heading: 'Ammonia',
  watches:
    'Works out, from total ammonia with pH, salinity and temperature, the un-ionised part, which is what harms, and compares it with published bounds. Readings below detection are as it should be.',
  byKind: false,
  parameters,
  quietHours: 24,
  ended: waterEnded('ammonia', 'ammonium'),
  evaluate(facts, settings, now) {
    const finding = judgeReadings(facts, 'ammonia', now, (readings) =>
      judge(facts, readings, settings(), now),
    );
    return finding === null ? [] : [finding];
  },
});

function judge(
  facts: SystemFacts,
  all: readonly ReadingFact[],
  values: AmmoniaSettings,
  now: Date,
): Finding | null {
  const today = dayOf(now);
  const readings = all.filter(({ day }) => day > today - historyDays);
  const last = readings.at(-1);
  if (last === undefined || last.below) return null;
  const relied = readings.filter(({ trust }) => trust !== 'unconfirmed');
  const followed = levelSinceLastEvent(facts, relied.length > 0 ? relied : readings);
  const track = trackLevel(followed, swing, noShift);
  if (track === null) return null;
  const level = levelNow(readings, track);
  const share = shareAt(facts, last.day);
  const z = Math.max(beyondTotal(level, values), beyondLasting(level, share, values));
  if (z < stays) return null;
  const stale = today - last.day > staleDays;
  const status = stale ? 'unknown' : z >= clear ? 'fires' : 'stays';
  return ammoniaFinding(facts, readings, level, share, status, values);
}

const beyondTotal = ({ value, sd }: Level, { total }: AmmoniaSettings) => (value - total) / sd;

function beyondLasting({ value, sd }: Level, { share, u }: AmmoniaShare, { lasting }: AmmoniaSettings) {
  const sdShare = Math.hypot(share * sd, value * share * u);
  return (value * share - lasting) / sdShare;
}

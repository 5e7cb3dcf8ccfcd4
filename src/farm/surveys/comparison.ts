import type { LightSurvey } from '../../generated/prisma/client.ts';
import type { Reader } from '../../platform/service.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { settingRatio } from '../light/lamp-settings.rules.ts';
import { factorDoubt, medianRatio } from './comparison.rules.ts';
import { extrapolatedSlots } from './light-map.rules.ts';

/** How a survey compares with the one before it, in words; and a doubt about the immersion factor, if there is one. */
export interface Comparison {
  words: string | null;
  doubt: string | null;
}

const NOTHING_TO_COMPARE: Comparison = { words: null, doubt: null };

/**
 * Compares a survey with the one before it. Corrected light is never compared with what a sensor showed, and nothing is
 * compared when the rack was mounted otherwise between the two.
 */
export async function compareWithBefore(
  db: Reader,
  survey: LightSurvey,
  timeZone: string,
): Promise<Comparison> {
  const before = await db.lightSurvey.findFirst({
    where: {
      rackId: survey.rackId,
      voidedAt: null,
      // Of one minute: the one entered first.
      OR: [
        { measuredAt: { lt: survey.measuredAt } },
        { measuredAt: survey.measuredAt, id: { lt: survey.id } },
      ],
    },
    orderBy: [{ measuredAt: 'desc' }, { id: 'desc' }],
  });
  if (before === null) return NOTHING_TO_COMPARE;
  const when = `the survey of ${dateWords(before.measuredAt, timeZone)}`;
  const between = { gt: before.measuredAt, lte: survey.measuredAt };
  const [remounted, mountings] = await Promise.all([
    db.rackStand.count({ where: { rackId: survey.rackId, at: between } }),
    db.rackStand.count({ where: { rackId: survey.rackId } }),
  ]);
  // A rack's first mounting is no change of mounting.
  if (remounted > 0 && mountings > remounted)
    return notCompared(`Not compared with ${when}: the rack was changed since.`);
  if (isUncorrected(before) !== isUncorrected(survey))
    return notCompared(
      `Not compared with ${when}: one of the two was entered with the factor 1, so its figures may be the sensor’s own, and corrected light is never compared with those.`,
    );
  const ratio = await ratioBetween(db, before, survey);
  if (ratio === null) return NOTHING_TO_COMPARE;
  return {
    words: `Beside ${when}, light under water with light under water (${factorWords(before)} then, ${factorWords(survey)} now), at the same setting of the lamps: ${numberWords(Number(ratio.toPrecision(2)))} times as much.`,
    doubt: factorDoubt(ratio, survey.immersionFactor),
  };
}

const notCompared = (words: string): Comparison => ({ words, doubt: null });

/** True where no correction is known: entered with the factor 1, so it may be the sensor's own figure. */
const isUncorrected = ({ factorInMeter, immersionFactor }: LightSurvey) =>
  !factorInMeter && immersionFactor === 1;

const factorWords = ({ factorInMeter, immersionFactor }: LightSurvey) =>
  `factor ${numberWords(immersionFactor)}${factorInMeter ? ' in the meter' : ''}`;

/** The median ratio over the slots measured now whose light was known, and not extrapolated, then. */
async function ratioBetween(db: Reader, before: LightSurvey, survey: LightSurvey): Promise<number | null> {
  const [then, now] = await Promise.all([
    db.slotLight.findMany({ where: { surveyId: before.id }, include: { slot: true } }),
    db.slotLight.findMany({ where: { surveyId: survey.id, measured: true } }),
  ]);
  const scale = settingRatio(before.lampPercent, survey.lampPercent);
  const extrapolated = extrapolatedSlots(then.map((light) => ({ ...light.slot, light })));
  const known = then.filter((light) => !extrapolated.has(light.slotId));
  const earlier = new Map(known.map((light) => [light.slotId, light.par * scale]));
  return medianRatio(now.map(({ slotId, par }) => ({ before: earlier.get(slotId) ?? 0, now: par })));
}

import type { LightSurvey } from '../../generated/prisma/client.ts';
import type { Reader } from '../../platform/service.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { settingRatio } from '../light/lamp-settings.rules.ts';
import { factorDoubt, medianRatio } from './comparison.rules.ts';
import { extrapolatedSlots } from './light-map.rules.ts';

/** What a survey is to the one before it, in words: which figures were compared, and a doubt where one arises. */
export interface Comparison {
  words: string | null;
  doubt: string | null;
}

const silent: Comparison = { words: null, doubt: null };

/**
 * A survey beside the one before it: light under water with light under water, never a corrected figure with what a
 * sensor showed, and nothing where the rack was hung otherwise between them.
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
  if (before === null) return silent;
  const when = `the survey of ${dateWords(before.measuredAt, timeZone)}`;
  const between = { gt: before.measuredAt, lte: survey.measuredAt };
  const [hung, stands] = await Promise.all([
    db.rackStand.count({ where: { rackId: survey.rackId, at: between } }),
    db.rackStand.count({ where: { rackId: survey.rackId } }),
  ]);
  if (hung > 0 && stands > hung) return said(`Not compared with ${when}: the rack was hung otherwise since.`);
  if (isBare(before) !== isBare(survey))
    return said(
      `Not compared with ${when}: one of the two was entered with the factor 1, so its figures may be the sensor’s own, and corrected light is never compared with those.`,
    );
  const ratio = await ratioOf(db, before, survey);
  if (ratio === null) return silent;
  return {
    words: `Beside ${when}, light under water with light under water (${factorWords(before)} then, ${factorWords(survey)} now), at the same setting of the lamps: ${numberWords(Number(ratio.toPrecision(2)))} times as much.`,
    doubt: factorDoubt(ratio, survey.immersionFactor),
  };
}

const said = (words: string): Comparison => ({ words, doubt: null });

/** True where no correction is known to have been made: the sensor's own figure, times 1. */
const isBare = ({ factorInMeter, immersionFactor }: LightSurvey) => !factorInMeter && immersionFactor === 1;

const factorWords = ({ factorInMeter, immersionFactor }: LightSurvey) =>
  `factor ${numberWords(immersionFactor)}${factorInMeter ? ' in the meter' : ''}`;

/** The middle ratio over the slots measured now whose light was known then, not extrapolated. */
async function ratioOf(db: Reader, before: LightSurvey, survey: LightSurvey): Promise<number | null> {
  const [then, now] = await Promise.all([
    db.slotLight.findMany({ where: { surveyId: before.id }, include: { slot: true } }),
    db.slotLight.findMany({ where: { surveyId: survey.id, measured: true } }),
  ]);
  const scale = settingRatio(before.lampPercent, survey.lampPercent);
  const beyond = extrapolatedSlots(then.map((light) => ({ ...light.slot, light })));
  const known = then.filter((light) => !beyond.has(light.slotId));
  const earlier = new Map(known.map((light) => [light.slotId, light.par * scale]));
  return medianRatio(now.map(({ slotId, par }) => ({ before: earlier.get(slotId) ?? 0, now: par })));
}

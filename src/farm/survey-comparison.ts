import type { LightSurvey } from '../generated/prisma/client.ts';
import type { Reader } from '../platform/service.ts';
import { settingRatio } from './light.rules.ts';
import { factorDoubt, medianRatio } from './surveys.rules.ts';

/** What comparing a survey with the one before it raises as a doubt about the factor; null where nothing does. */
export async function doubtAbout(db: Reader, survey: LightSurvey): Promise<string | null> {
  const before = await db.lightSurvey.findFirst({
    where: { rackId: survey.rackId, voidedAt: null, measuredAt: { lt: survey.measuredAt } },
    orderBy: { measuredAt: 'desc' },
  });
  if (before === null) return null;
  const [then, now] = await Promise.all([
    db.slotLight.findMany({ where: { surveyId: before.id } }),
    db.slotLight.findMany({ where: { surveyId: survey.id, measured: true } }),
  ]);
  const scale = settingRatio(before.lampPercent, survey.lampPercent);
  const earlier = new Map(then.map((light) => [light.slotId, light.par * scale]));
  const pairs = now.map(({ slotId, par }) => ({ before: earlier.get(slotId) ?? 0, now: par }));
  return factorDoubt(medianRatio(pairs), survey.immersionFactor);
}

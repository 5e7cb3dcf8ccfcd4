import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { changePlan, lockStep, refuseStale } from '../../platform/plans/plans.ts';
import { Refusal } from '../../platform/refusal.ts';
import { placesFor, readShelves } from './candidate-slots.ts';
import { readLotsWithLight } from './lots.ts';
import { readStepContext, stepEffect } from './next-step.ts';
import { acclimationPlan, acclimationSubject } from './plan.ts';
import type { CandidatePlace } from './slot-steps.rules.ts';
import { type Acclimation, type AcclimationStep, nextSteps } from './state.ts';

/** Places offered for a step, the nearest to its planned light first: more than one screen of choices helps nobody. */
const OFFERED = 25;

/**
 * Free places for the next steps of an acclimation that each lot bears now (within its step, below its ceiling), the
 * nearest to the planned light first; by step. A fixed number of queries.
 */
export async function candidatePlaces(
  reader: SqlReader,
  acclimation: Acclimation,
  now: Date,
): Promise<Map<string, CandidatePlace[]>> {
  const steps = nextSteps(acclimation).filter((step) => step.lotId !== null);
  if (steps.length === 0) return new Map();
  const ids = steps.map((step) => step.lotId ?? '');
  const lots = new Map(
    (await readLotsWithLight(reader, acclimation.siteId, ids, now)).map((lot) => [lot.id, lot]),
  );
  const systems = [...new Set(steps.flatMap((step) => step.systemId ?? []))];
  const shelves = await readShelves(reader, systems, now);
  const context = await readStepContext(reader, [acclimation], now);
  return new Map(
    steps.map((step) => {
      const lot = lots.get(step.lotId ?? '');
      const [standing] = stepEffect(acclimation, step, context).lots;
      if (lot === undefined || standing === undefined) return [step.id, []];
      const most = (standing.lot.used ?? step.dli) * acclimation.maxStepRatio;
      const ceiling = standing.lot.parCeiling ?? Number.POSITIVE_INFINITY;
      const bearable = placesFor(shelves, lot, new Set()).filter(
        (place) => place.dli <= most && place.parMax <= ceiling,
      );
      const off = (place: CandidatePlace) => Math.abs(Math.log(place.dli / step.dli));
      return [step.id, bearable.sort((a, b) => off(a) - off(b)).slice(0, OFFERED)];
    }),
  );
}

/**
 * Gives the next step of a lot another place. @throws Refusal 409 when it changed meanwhile, or the place is no longer
 * free or too bright for it now
 */
export async function choosePlace(
  work: Work,
  { stepId, version, slotIds }: { stepId: string; version: number; slotIds: readonly string[] },
): Promise<{ acclimationId: string }> {
  const { plan: acclimation, step } = await lockStep(work, acclimationPlan, stepId);
  refuseStale(acclimationPlan, acclimation, version);
  const offered = (await candidatePlaces(readerOf(work.tx), acclimation, work.now)).get(step.id) ?? [];
  const place = offered.find((one) => sameSlots(one.slotIds, slotIds));
  if (place === undefined)
    throw new Refusal('That place is taken, promised, or too bright for it now. Choose another.', {
      status: 409,
      field: 'place',
    });
  await write(work, step, place);
  await changePlan(work, acclimationPlan, acclimation);
  work.record('acclimation.place_chosen', acclimationSubject(acclimation.id), {
    name: acclimation.name,
    step: step.position,
    code: step.code,
    from: step.place,
    to: place.name,
  });
  return { acclimationId: acclimation.id };
}

const sameSlots = (a: readonly string[], b: readonly string[]) =>
  a.length === b.length && a.every((id) => b.includes(id));

const write = (work: Work, { id }: AcclimationStep, { slotIds, dli, par }: CandidatePlace) =>
  work.tx.acclimationStep.update({ where: { id }, data: { slotIds: [...slotIds], dli, par } });

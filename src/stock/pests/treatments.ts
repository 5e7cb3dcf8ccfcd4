import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { localDay } from '../../platform/days.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import { clockOfWatch } from './clock.rules.ts';
import { pestOf } from './pests.rules.ts';
import { lotsInWater, watchById } from './state.ts';
import type { TemperaturesOf } from './tasks.ts';
import { againstLabel, againstNotFor, type BathedLot } from './treatments.rules.ts';
import type { NewTreatment } from './treatments.schema.ts';

const ofSystem = (id: string) => ({ type: 'system' as const, id });

/**
 * Keeps a treatment as it was done, and when it is due again by the pest's clock. The label decides what may be done; what
 * departs from what was typed of it is asked about.
 * @returns the day it is due again; null where that is not known
 * @throws Refusal 404; 409 where the watch has ended, or it departs from its label and no reason is given
 */
export async function addTreatment(
  work: Work,
  id: string,
  input: NewTreatment,
  temperaturesOf: TemperaturesOf,
): Promise<{ againOn: string | null }> {
  const reader = readerOf(work.tx);
  await work.tx.$queryRaw`SELECT id FROM pest_watch WHERE id = ${id}::uuid FOR UPDATE`;
  const watch = await watchById(reader, id, work.now);
  if (watch === null) throw notFound('This watch for a pest');
  if (watch.endedAt !== null)
    throw new Refusal('The watch for this pest has ended already.', { status: 409 });
  const here = new Set((await lotsInWater(reader, watch)).map((lot) => lot.id));
  if (input.treated.some((lotId) => !here.has(lotId)))
    throw new Refusal('One of these lots is no longer in this water. Look at the list again.', {
      status: 409,
      field: 'treated',
    });
  const departs = [
    againstLabel(input, watch.treatments),
    againstNotFor(input.notFor, await bathedLots(reader, input.treated)),
  ]
    .filter((one) => one !== '')
    .join(' ');
  if (departs !== '' && input.reason === '')
    throw new Refusal(`${departs} Say why it was done this way.`, { status: 409, field: 'reason' });
  const days = await temperaturesOf(reader, [watch.systemId], work.now);
  const treatments = [...watch.treatments, { at: input.at }];
  const clock = clockOfWatch(
    { ...watch, treatments: treatments as typeof watch.treatments },
    days.get(watch.systemId) ?? [],
  );
  const againOn = clock.treatment === null ? null : localDay(clock.treatment.from, watch.timeZone);
  const { treated, doseALitre, reason, ...said } = input;
  const row = await work.tx.pestTreatment.create({
    data: {
      ...said,
      ...{ watchId: id, doseALitre, reason: departs === '' ? '' : reason, accountId: work.accountId },
      againOn: againOn === null ? null : new Date(`${againOn}T00:00:00Z`),
    },
  });
  await work.tx.pestTreatmentLot.createMany({
    data: [...new Set(treated)].map((lotId) => ({ treatmentId: row.id, lotId })),
  });
  const { product, minutes, at } = input;
  const pest = pestOf(watch.pest).name;
  const told = { watch: id, pest, product, minutes, doseALitre, lots: treated.length, at, againOn };
  work.record('pest_treatment.entered', ofSystem(watch.systemId), {
    ...told,
    ...(departs === '' ? {} : { departs, reason }),
  });
  work.reevaluate(watch.systemId);
  return { againOn };
}

const namesQuery = `
  SELECT lot.code, array_remove(ARRAY[lot.code, lot.own_code, lot.trade_name, kind.name, CASE WHEN kind.rank = 'taxon' THEN split_part(kind.name, ' ', 1) END, parent.name, named.scientific_name,
           split_part(named.scientific_name, ' ', 1)] || kind.also_called || coalesce(parent.also_called, '{}'), NULL) AS names
    FROM lot JOIN kind ON kind.id = lot.kind_id LEFT JOIN kind AS parent ON parent.id = kind.parent_id
    LEFT JOIN LATERAL (SELECT scientific_name FROM identification WHERE lot_id = lot.id ORDER BY date_identified DESC, created_at DESC LIMIT 1) AS named ON true
   WHERE lot.id = ANY($1::uuid[]) ORDER BY lot.code`;

/** Lots by all names they go by: their codes, their kind with its genus and its group, what they are sold and named as. One query. */
async function bathedLots(reader: SqlReader, ids: readonly string[]): Promise<BathedLot[]> {
  return (await reader.query<BathedLot & Record<string, unknown>>(namesQuery, [[...ids]])).rows;
}

/** Voids a look or a treatment entered by mistake; nothing counts it any more. @throws Refusal 404; 409 when it is void */
export async function voidEntry(
  work: Work,
  what: 'look' | 'treatment',
  id: string,
  reason: string,
): Promise<{ watchId: string }> {
  const where = { id };
  const row =
    what === 'look'
      ? await work.tx.pestLook.findUnique({ where, include: { watch: true } })
      : await work.tx.pestTreatment.findUnique({ where, include: { watch: true } });
  if (row === null) throw notFound(what === 'look' ? 'This look' : 'This treatment');
  const { watch } = row;
  if (watch.endedAt !== null)
    throw new Refusal('The watch has ended. Note the pest again if it is still there.', { status: 409 });
  const voided = { where: { id, voidedAt: null }, data: { voidedAt: work.now, voidReason: reason } };
  const { count } =
    what === 'look'
      ? await work.tx.pestLook.updateMany(voided)
      : await work.tx.pestTreatment.updateMany(voided);
  if (count === 0) throw new Refusal('It is void already.', { status: 409 });
  const kind = what === 'look' ? 'pest_look.voided' : 'pest_treatment.voided';
  work.record(kind, ofSystem(watch.systemId), {
    watch: watch.id,
    pest: pestOf(watch.pest).name,
    at: row.at,
    reason,
  });
  work.reevaluate(watch.systemId);
  return { watchId: watch.id };
}

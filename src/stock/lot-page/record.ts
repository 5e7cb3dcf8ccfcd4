import type { Advised } from '../../alerts/steps.ts';
import type { Flow, Severity } from '../../generated/prisma/enums.ts';
import type { Service } from '../../platform/service.ts';
import { type Care, lotCare } from '../kinds/care.ts';
import { type FarmUnits, farmUnits } from '../kinds/care-figure-words.ts';
import type { NameNote } from '../kinds/name-check.rules.ts';
import { libraryNames, notesOnNames } from '../kinds/name-check.ts';
import { type LotLight, lotLights, NO_LIGHT } from '../light/lot-light.ts';
import { type ChildLot, childrenOf } from '../lots/children.ts';
import { latestOpinion, type Opinion } from '../lots/identifications.ts';
import type { FoundLot } from '../lots/lots.ts';
import { type ListedLot, listLots } from '../lots/search.ts';
import { type LotToAsk, lotsToAsk } from '../places/emptied-slots.ts';
import { lotReadiness, type Readiness } from '../sales/readiness.ts';
import { type LotEvent, type LotEventSource, lotTimeline } from './timeline.ts';

/** An open alert as the record shows it; the fields of `finding` are those the rule wrote. */
export interface RecordAlert {
  id: string;
  severity: Severity;
  title: string;
  openedAt: Date;
  putOffUntil: Date | null;
  finding: Advised & { numbers?: string; why?: string };
}

/** Flow, base and jets of the slots of a lot, taken together. */
interface PlaceConditions {
  tankName: string;
  flows: Flow[];
  bases: string[];
  jet: boolean;
}

/** Lots made of it that are told at first (own choice). */
export const shownChildren = 100;

/** Everything known of one lot. */
export interface LotRecord {
  lot: FoundLot;
  listing: ListedLot;
  care: Care;
  units: FarmUnits;
  light: LotLight;
  placeConditions: PlaceConditions | null;
  identification: Opinion | null;
  /** What the library says to its names. */
  nameNotes: NameNote[];
  alerts: RecordAlert[];
  /** The running acclimation it is in. */
  acclimation: { id: string; name: string; pausedAt: Date | null } | null;
  /** What was made of it: the newest, and one more than {@link shownChildren} where there are more. */
  children: ChildLot[];
  /** Its photos that are not void, the newest first. */
  photos: { id: string; takenAt: Date }[];
  /** Its count after each change, the oldest first. */
  counts: { at: Date; change: number; left: number }[];
  /** Where pieces went and nobody has said which of its slots are empty. */
  toAsk: LotToAsk | null;
  /** Null when no piece is left. */
  readiness: Readiness | null;
  timeline: { events: LotEvent[]; total: number };
}

const alertQuery = `
  SELECT id, severity, title, opened_at AS "openedAt", put_off_until AS "putOffUntil", finding
    FROM lot_alert WHERE lot_id = $1 ORDER BY severity, opened_at`;

const placeConditionsQuery = `
  SELECT tank_name AS "tankName", coalesce(array_agg(DISTINCT flow::text) FILTER (WHERE flow IS NOT NULL), '{}') AS flows, array_agg(DISTINCT base::text) AS bases, bool_or(jet) AS jet
    FROM lot_place WHERE lot_id = $1 GROUP BY tank_name`;

const photosQuery = `
  SELECT id, taken_at AS "takenAt" FROM photo WHERE lot_id = $1 AND voided_at IS NULL ORDER BY taken_at DESC, id DESC`;

const countsQuery = `
  SELECT at, change, sum(change) OVER (ORDER BY at, id)::int AS left FROM ledger_entry
   WHERE lot_id = $1 AND voided_at IS NULL ORDER BY at, id`;

/** The record of a lot, with one page of its timeline. A fixed number of queries, however long its history. */
export async function lotRecord(
  { db, pool, now }: Pick<Service, 'db' | 'pool' | 'now'>,
  lot: FoundLot,
  { page, perPage, timeZone }: { page: number; perPage: number; timeZone: string },
  others: readonly LotEventSource[],
): Promise<LotRecord> {
  const at = now();
  const [
    listings,
    cares,
    units,
    placeConditions,
    alerts,
    running,
    identification,
    children,
    timeline,
    photos,
    counts,
    ready,
    library,
    [toAsk = null],
  ] = await Promise.all([
    listLots(pool, [lot.id], at),
    lotCare(pool, { lotIds: [lot.id] }),
    farmUnits(pool),
    pool.query<PlaceConditions>(placeConditionsQuery, [lot.id]),
    pool.query<RecordAlert>(alertQuery, [lot.id]),
    db.acclimationLot.findFirst({
      where: { lotId: lot.id, endedAt: null },
      select: { acclimation: { select: { id: true, name: true, pausedAt: true } } },
    }),
    latestOpinion(db, lot.id),
    childrenOf(pool, lot.id, { after: null, limit: shownChildren + 1 }),
    lotTimeline(pool, lot.id, others, { page, perPage }),
    pool.query<LotRecord['photos'][number]>(photosQuery, [lot.id]),
    pool.query<LotRecord['counts'][number]>(countsQuery, [lot.id]),
    lotReadiness(pool, { siteId: lot.siteId, timeZone, lotIds: [lot.id] }, at),
    libraryNames(db),
    lotsToAsk(pool, lot.siteId, { lotIds: [lot.id] }),
  ]);
  const light = (await lotLights(pool, [lot.id], cares, at)).get(lot.id);
  return {
    lot,
    listing: listings[0] as ListedLot,
    care: cares.get(lot.id) ?? {},
    units,
    light: light ?? NO_LIGHT,
    placeConditions: placeConditions.rows[0] ?? null,
    identification,
    nameNotes: notesOnNames(library, {
      ...{ kindId: lot.kindId, tradeName: lot.tradeName },
      identifiedAs: identification?.scientificName ?? '',
    }),
    alerts: alerts.rows,
    acclimation: running?.acclimation ?? null,
    children,
    photos: photos.rows,
    counts: counts.rows,
    toAsk,
    readiness: ready[0] ?? null,
    timeline,
  };
}

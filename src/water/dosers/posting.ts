import { uuidv7 } from 'uuidv7';
import { noteUse } from '../../farm/equipment/containers.ts';
import { change, type Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { addDays, localDay, momentOf } from '../../platform/days.ts';
import type { Service } from '../../platform/service.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { dayMs } from '../../science/numeric/time.ts';
import { type DoseEffect, effectOfDose } from '../dosing/dose-effect.rules.ts';
import { lockWaters } from '../systems/systems.ts';
import { type Doser, readDoser, recordOf, runningDosers } from './doser-record.ts';
import { type LocalDay, perDayAt, type Reckoned, reckonDoser } from './reckoning.rules.ts';

/** A doser's days are reckoned so far back; older ones stay as they were posted. Own choice: a year and a month. */
const longestDays = 400;
/** Days that differ by less than this share stay as they were posted; own choice: no test would see it. */
const sameShare = 0.005;
/** Less a day than this is nothing, mL: a drop is about 0.05 mL. */
const leastMl = 0.05;

/** The first day that is still reckoned. */
const oldestDay = ({ timeZone }: Pick<Doser, 'timeZone'>, now: Date): string =>
  localDay(new Date(now.getTime() - longestDays * dayMs), timeZone);

/** The local days of a doser since its first plan, today as far as it has come. */
export function daysOf({ plans, timeZone }: Doser, now: Date): LocalDay[] {
  const [first] = plans;
  if (first === undefined) return [];
  const today = localDay(now, timeZone);
  const earliest =
    [localDay(new Date(first.fromMs), timeZone), oldestDay({ timeZone }, now)].toSorted()[1] ?? today;
  const days: LocalDay[] = [];
  for (let day = earliest; day <= today; day = addDays(day, 1)) {
    const endMs = momentOf(addDays(day, 1), '00:00', timeZone).getTime();
    days.push({
      day,
      startMs: momentOf(day, '00:00', timeZone).getTime(),
      endMs: Math.min(endMs, now.getTime()),
    });
  }
  return days;
}

/** What a doser gave, day by day until now. */
export const reckonedOf = (doser: Doser, now: Date): Reckoned =>
  reckonDoser(recordOf(doser), daysOf(doser, now));

/** What so many mL of what it holds raise: by the strength in the books, else by the words. Mass balance. */
export function doserEffect(
  { strength, strengthCode, volumeL }: Doser,
  substance: string,
  ml: number,
): DoseEffect | null {
  if (strength !== null && strengthCode !== null)
    return { quantityCode: strengthCode, rise: (strength * ml) / 1000 / volumeL };
  return effectOfDose(substance, ml, 'mL', volumeL);
}

interface Posted {
  id: string;
  day: string;
  ml: number;
  counts: boolean;
  /** It was voided since its day was reckoned anew; else somebody voided it. */
  replaced: boolean;
}

/** What has to be written for a doser's days until yesterday: entries that no longer hold, and days that lack one. */
interface Pending {
  stale: { id: string; was: number; ml: number }[];
  fresh: { day: string; ml: number }[];
}

/** A day that a person voided stays so. A day of which no plan tells any more gave nothing. */
function pendingOf(
  reckoned: Reckoned,
  entries: readonly Posted[],
  { since, today }: { since: string; today: string },
): Pending {
  const posted = Map.groupBy(entries, ({ day }) => day);
  const told = new Set(reckoned.days.map(({ day }) => day));
  const stale: Pending['stale'] = entries
    .filter(({ day, counts }) => counts && day >= since && day < today && !told.has(day))
    .map(({ id, ml }) => ({ id, was: ml, ml: 0 }));
  const fresh: Pending['fresh'] = [];
  for (const { day, ml } of reckoned.days) {
    if (day >= today) continue;
    const own = posted.get(day) ?? [];
    const standing = own.find(({ counts }) => counts);
    const isVoidedByHand = standing === undefined && own.some(({ replaced }) => !replaced);
    if (isVoidedByHand || isSame(standing?.ml ?? 0, ml)) continue;
    if (standing !== undefined) stale.push({ id: standing.id, was: standing.ml, ml });
    if (ml >= leastMl) fresh.push({ day, ml });
  }
  return { stale, fresh };
}

async function readPending(reader: SqlReader, doser: Doser, now: Date): Promise<Pending> {
  const reckoned = reckonedOf(doser, now);
  const { rows } = await reader.query<Posted>(postedQuery, [doser.id]);
  const days = { since: oldestDay(doser, now), today: localDay(now, doser.timeZone) };
  return pendingOf(reckoned, rows, days);
}

/**
 * Posts a doser's doses until yesterday, one a day, and mends those that are reckoned otherwise now: the old entry is
 * voided with the reason, a new one written. Done twice, the second changes nothing.
 * @param why the reason for what is mended
 */
export async function postDoses(work: Work, id: string, why: string): Promise<void> {
  const reader = readerOf(work.tx);
  const { systemId } = await readDoser(reader, id);
  await lockWaters(work.tx, [systemId]);
  const doser = await readDoser(reader, id);
  const { stale, fresh } = await readPending(reader, doser, work.now);
  await voidStale(work, stale, why);
  await writeDays(work, doser, fresh);
  const use = useNow(doser, work.now);
  if (use !== null) await noteUse(work, id, use);
  if (stale.length + fresh.length === 0) return;
  const ml = Math.round(fresh.reduce((sum, day) => sum + day.ml, 0));
  work.record(
    'doser.posted',
    { type: 'equipment', id },
    { system: doser.systemName, days: fresh.length, ml, why },
  );
  work.reevaluate(systemId);
}

const mlWords = (ml: number) => `${numberWords(ml, ml < 10 ? 1 : 0)} mL`;
const isSame = (a: number, b: number) =>
  (a < leastMl && b < leastMl) || Math.abs(a - b) <= sameShare * Math.max(a, b);

/** Litres a day by the plan that runs now; null where none does, or its rate is not known. */
function useNow(doser: Doser, now: Date): number | null {
  const plan = doser.plans.find(({ untilMs }) => untilMs === null);
  const perDay = plan === undefined ? null : perDayAt(recordOf(doser), plan, now.getTime());
  return perDay === null || perDay === 0 ? null : perDay / 1000;
}

const postedQuery = `
  SELECT id, doser_day::text AS day, amount AS ml, voided_at IS NULL AS counts, doser_replaced AS replaced
    FROM dose WHERE doser_id = $1::text::uuid`;

async function voidStale(work: Work, stale: Pending['stale'], why: string): Promise<void> {
  if (stale.length === 0) return;
  const rows = stale.map(({ id, was, ml }) => ({
    id,
    reason: `${why}: ${mlWords(ml)} instead of ${mlWords(was)}`,
  }));
  await work.tx.$executeRaw`
    UPDATE dose SET voided_at = ${work.now}, void_reason = stale.reason, doser_replaced = true
      FROM json_to_recordset(${JSON.stringify(rows)}::json) AS stale(id uuid, reason text) WHERE dose.id = stale.id`;
}

/** The dose of a day stands at the end of that day, the last second of it. */
const endOf = ({ timeZone }: Doser, day: string): number =>
  momentOf(addDays(day, 1), '00:00', timeZone).getTime() - 1000;

/** What a doser gave on a day: by its plan at the end of that day. */
export function substanceOn(doser: Doser, day: string): string {
  const at = endOf(doser, day);
  const plan = doser.plans.findLast(({ fromMs }) => fromMs <= at) ?? doser.plans[0];
  return plan?.substance ?? doser.holds;
}

async function writeDays(
  work: Work,
  doser: Doser,
  days: readonly { day: string; ml: number }[],
): Promise<void> {
  if (days.length === 0) return;
  const rows = days.map(({ day, ml }) => {
    const substance = substanceOn(doser, day);
    const effect = doserEffect(doser, substance, ml);
    return {
      id: uuidv7(),
      day,
      at: new Date(endOf(doser, day)),
      ml,
      substance,
      code: effect?.quantityCode ?? null,
      rise: effect?.rise ?? null,
    };
  });
  await work.tx.$executeRaw`
    INSERT INTO dose (id, system_id, at, substance, amount, unit, quantity_code, effect, doser_id, doser_day, created_at)
    SELECT id, ${doser.systemId}::uuid, at, substance, ml, 'mL', code, rise, ${doser.id}::uuid, day, ${work.now}
      FROM json_to_recordset(${JSON.stringify(rows)}::json)
        AS entry(id uuid, day date, at timestamptz, ml float8, substance text, code text, rise float8)`;
}

/** Posts what dosers gave until yesterday, where that is not posted yet: each in a change of its own. */
export async function postDueDoses(service: Service): Promise<void> {
  const now = service.now();
  for (const id of await runningDosers(service.pool)) {
    const { stale, fresh } = await readPending(service.pool, await readDoser(service.pool, id), now);
    if (stale.length + fresh.length === 0) continue;
    await change(service, { accountId: null }, (work) => postDoses(work, id, 'Calculated again'));
  }
}

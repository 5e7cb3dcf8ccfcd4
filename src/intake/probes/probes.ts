import type pg from 'pg';
import type { Prisma } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { displayNow } from '../../platform/units/reader-quantities.ts';
import type { MethodFigures } from '../../water/entry/entry.rules.ts';
import { nameInSentence } from '../../water/quantities/name.rules.ts';
import type { DisplayQuantity, Quantity } from '../../water/quantities/quantities.ts';
import { findOpenWaterSystem } from '../../water/systems/systems.ts';
import type { DayCount } from './day-counts.ts';
import { senmlUnit } from './units.rules.ts';

/** A name with the system and the instrument it stands for. */
const withPlacement = {
  system: { select: { id: true, name: true, retiredAt: true } },
  kit: { include: { method: { include: { quantity: true } } } },
} satisfies Prisma.ProbeNameInclude;
type ProbeName = Prisma.ProbeNameGetPayload<{ include: typeof withPlacement }>;

/** What a name stands for, as a value that comes under it wants to know. */
export interface PlacedName {
  name: string;
  /** `keptDays`: for how many days the site keeps each value; null: for ever. */
  system: { id: string; name: string; isRetired: boolean; keptDays: number | null } | null;
  kit: PlacedKit | null;
  /** The unit it last reported in; null where it stated none. */
  unit: string | null;
  /** Values that came and were not kept, since nobody says what it is or its unit is none of its instrument's. */
  unkept: number;
}

export interface PlacedKit {
  id: string;
  method: PlacedMethod;
}

interface PlacedMethod extends MethodFigures {
  id: string;
  quantity: DisplayQuantity & Pick<Quantity, 'name' | 'possibleLow' | 'possibleHigh'>;
}

/** Unknown names are kept up to this number, so that an instrument that makes up names cannot fill the table; own choice. */
const mostUnknownNames = 200;

/** A name that is not placed, or stands for something at this site. */
const ofSite = (siteId: string) => ({ OR: [{ systemId: null }, { system: { siteId } }] });

/** Every name that ever reported and is of no other site, with what it stands for; those that wait to be placed first. */
export async function listProbeNames(db: Reader, siteId: string): Promise<ProbeName[]> {
  return db.probeName.findMany({
    where: ofSite(siteId),
    include: withPlacement,
    orderBy: [{ kitId: { sort: 'asc', nulls: 'first' } }, { name: 'asc' }],
  });
}

/**
 * The names of some packs as rows, locked until the transaction ends: packs of the same names wait for each other, so that
 * one value is never saved twice. Names that nobody has heard of are remembered.
 */
export async function probesNamed(work: Work, names: readonly string[]): Promise<Map<string, PlacedName>> {
  const rows = await lockNames(work, names);
  if (rows.length === names.length) return byName(rows);
  await rememberNames(work, names);
  return byName(await lockNames(work, names));
}

// The lock may wait for somebody who says what a name stands for; what that is may be newer than the statement.
const locked = `
  WITH held AS MATERIALIZED (SELECT name, system_id, kit_id, unit, unkept FROM probe_name WHERE name = ANY($1) ORDER BY name FOR UPDATE)
  SELECT held.name, held.unit, held.unkept, held.kit_id IS NOT NULL AND kit.id IS NULL AS "isTooNew",
         CASE WHEN system.id IS NOT NULL THEN json_build_object('id', system.id, 'name', system.name, 'isRetired', system.retired_at IS NOT NULL, 'keptDays', site.probe_value_days) END AS system,
         CASE WHEN kit.id IS NOT NULL THEN json_build_object('id', kit.id, 'method', json_build_object(
           'id', method.id, 'absolute', method.absolute, 'relative', method.relative, 'detectionLimit', method.detection_limit,
           'quantity', json_build_object('code', quantity.code, 'name', quantity.name, 'canonicalUnit', canonical_unit, 'displayUnit', display_unit,
             'decimals', decimals, 'possibleLow', possible_low, 'possibleHigh', possible_high))) END AS kit
    FROM held LEFT JOIN system ON system.id = held.system_id LEFT JOIN site ON site.id = system.site_id LEFT JOIN kit ON kit.id = held.kit_id
    LEFT JOIN method ON method.id = kit.method_id LEFT JOIN quantity ON quantity.code = method.quantity_code`;

async function lockNames({ tx }: Work, names: readonly string[]): Promise<PlacedName[]> {
  type Row = PlacedName & { isTooNew: boolean };
  const ask = () => tx.$queryRawUnsafe<Row[]>(locked, [...names]);
  const rows = await ask();
  return rows.some(({ isTooNew }) => isTooNew) ? ask() : rows;
}

/** By name; their quantities in the units of whoever reads. */
function byName(rows: readonly PlacedName[]): Map<string, PlacedName> {
  for (const { kit } of rows)
    if (kit !== null) Object.assign(kit.method.quantity, displayNow(kit.method.quantity));
  return new Map(rows.map((row) => [row.name, row]));
}

/**
 * Says what a name stands for; one of another site stays as it is.
 * @throws Refusal 404, 409 for a stale edit, 422 for a kit out of use or of something that the name does not report in
 */
export async function placeProbe(
  work: Work,
  { name, systemId, kitId, version }: { name: string; systemId: string; kitId: string; version: number },
): Promise<{ name: string; system: string; label: string }> {
  const system = await findOpenWaterSystem(work.tx, systemId);
  const kit = await work.tx.kit.findUnique({
    where: { id: kitId },
    include: { method: { include: { quantity: true } } },
  });
  const probe = await work.tx.probeName.findUnique({ where: { name }, select: { unit: true } });
  if (kit === null) throw notFound('This instrument');
  if (kit.retiredAt !== null)
    throw new Refusal(`${kit.label} is out of use. Choose another.`, { field: 'kitId' });
  const fault = faultOfUnit(kit.method.quantity, probe?.unit ?? null);
  if (fault !== null)
    throw new Refusal(
      `${name} reports in “${probe?.unit}”, and ${fault}: nothing of it would be kept. Choose an instrument of what it reports.`,
      { field: 'kitId' },
    );
  const { count } = await work.tx.probeName.updateMany({
    where: { name, version, ...ofSite(system.siteId) },
    data: { systemId, kitId, unkept: 0, unkeptWhy: '', version: { increment: 1 } },
  });
  if (count === 0) throw staleEdit('What this name is');
  work.record('probe.placed', { type: 'kit', id: kitId }, { name, system: system.name, label: kit.label });
  return { name, system: system.name, label: kit.label };
}

/** Why what is reported in a unit cannot be of a quantity; null where it can, or where no unit is known yet. */
export function faultOfUnit(
  quantity: Pick<Quantity, 'code' | 'name' | 'canonicalUnit'>,
  unit: string | null,
): string | null {
  const read = unit === null ? null : senmlUnit(quantity, unit);
  return read !== null && 'fault' in read ? `that is not a unit of ${nameInSentence(quantity.name)}` : null;
}

/** What came under a name and was not kept, and the unit it came in; `why` is empty where nobody says what the name is. */
export interface UnkeptName {
  name: string;
  unit: string | null;
  unkept: number;
  why: string;
}

/** Remembers in what unit names report, and counts what is not kept of them until a pack of theirs is kept again. Their rows are locked. */
export async function noteUnkept(work: Work, names: readonly UnkeptName[]): Promise<void> {
  if (names.length === 0) return;
  await work.tx.$executeRaw`
    UPDATE probe_name SET unit = coalesce(said.unit, probe_name.unit), unkept_why = said.why,
                          unkept = CASE WHEN said.unkept = 0 THEN 0 ELSE probe_name.unkept + said.unkept END
      FROM json_to_recordset(${JSON.stringify(names)}::json) AS said(name text, unit text, unkept int, why text)
     WHERE probe_name.name = said.name`;
}

/** Keeps the names that nobody has placed yet, so that the probes page can list them. */
export async function rememberNames(work: Work, names: readonly string[]): Promise<void> {
  await work.tx.$executeRaw`
    INSERT INTO probe_name (name, created_at)
    SELECT name, ${work.now} FROM unnest(${[...names].sort()}::text[]) AS name
     WHERE (SELECT count(*) FROM probe_name WHERE kit_id IS NULL) < ${mostUnknownNames}
        ON CONFLICT (name) DO NOTHING`;
}

/** Adds to the day's count of each name (UTC days): how many values were taken, how many were impossible. */
export async function countByDay(work: Work, rows: readonly DayCount[]): Promise<void> {
  if (rows.length === 0) return;
  await work.tx.$executeRaw`
    INSERT INTO probe_day (name, day, taken, rejected, refused)
    SELECT name, day, taken, rejected, refused
      FROM json_to_recordset(${JSON.stringify(rows)}::json) AS count(name text, day date, taken int, rejected int, refused text)
        ON CONFLICT (name, day) DO UPDATE
       SET taken = probe_day.taken + excluded.taken, rejected = probe_day.rejected + excluded.rejected,
           refused = CASE WHEN excluded.refused = '' THEN probe_day.refused ELSE excluded.refused END`;
}

/** What one name reported over some days. */
export interface ReportCount {
  name: string;
  kitId: string | null;
  taken: number;
  /** Values that cannot be: below 0 pH, beyond what water can hold. */
  rejected: number;
  /** The last of them, as it came. */
  refused: string;
}

const counts = `
  SELECT probe_name.name, probe_name.kit_id AS "kitId", coalesce(sum(taken), 0)::int AS taken, coalesce(sum(rejected), 0)::int AS rejected,
         coalesce((array_agg(refused ORDER BY day DESC) FILTER (WHERE refused <> ''))[1], '') AS refused
    FROM probe_name LEFT JOIN probe_day ON probe_day.name = probe_name.name AND day >= $1::date
   GROUP BY probe_name.name ORDER BY probe_name.name`;

/** How much each name reported since a day, and how much of it was refused as impossible. One query. */
export async function reportCounts(pool: pg.Pool, since: Date): Promise<ReportCount[]> {
  return (await pool.query<ReportCount>(counts, [since.toISOString().slice(0, 10)])).rows;
}

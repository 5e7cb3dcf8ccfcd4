import type pg from 'pg';
import type { Prisma } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { findOpenWaterSystem } from '../../water/systems/systems.ts';

/** A name with the system and the instrument it stands for. */
const withPlacement = {
  system: { select: { id: true, name: true, retiredAt: true } },
  kit: { include: { method: { include: { quantity: true } } } },
} satisfies Prisma.ProbeNameInclude;
export type ProbeName = Prisma.ProbeNameGetPayload<{ include: typeof withPlacement }>;

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
export async function probesNamed(work: Work, names: readonly string[]): Promise<Map<string, ProbeName>> {
  const known = await lockNames(work, names);
  if (known < names.length) {
    await rememberNames(work, names);
    await lockNames(work, names);
  }
  const rows = await work.tx.probeName.findMany({
    where: { name: { in: [...names] } },
    include: withPlacement,
  });
  return new Map(rows.map((row) => [row.name, row]));
}

/** @returns how many of them there are */
const lockNames = ({ tx }: Work, names: readonly string[]): Promise<number> =>
  tx.$executeRaw`SELECT 1 FROM probe_name WHERE name = ANY(${[...names]}) ORDER BY name FOR UPDATE`;

/** Says what a name stands for; one of another site stays as it is. @throws Refusal 404, 409 for a stale edit, 422 for a kit out of use */
export async function placeProbe(
  work: Work,
  { name, systemId, kitId, version }: { name: string; systemId: string; kitId: string; version: number },
): Promise<{ name: string; system: string; label: string }> {
  const system = await findOpenWaterSystem(work.tx, systemId);
  const kit = await work.tx.kit.findUnique({ where: { id: kitId } });
  if (kit === null) throw notFound('This instrument');
  if (kit.retiredAt !== null)
    throw new Refusal(`${kit.label} is out of use. Choose another.`, { field: 'kitId' });
  const { count } = await work.tx.probeName.updateMany({
    where: { name, version, ...ofSite(system.siteId) },
    data: { systemId, kitId, version: { increment: 1 } },
  });
  if (count === 0) throw staleEdit('What this name is');
  work.record('probe.placed', { type: 'kit', id: kitId }, { name, system: system.name, label: kit.label });
  return { name, system: system.name, label: kit.label };
}

/** Keeps the names that nobody has placed yet, so that the probes page can list them. */
export async function rememberNames(work: Work, names: readonly string[]): Promise<void> {
  await work.tx.$executeRaw`
    INSERT INTO probe_name (name, created_at)
    SELECT name, ${work.now} FROM unnest(${[...names].sort()}::text[]) AS name
     WHERE (SELECT count(*) FROM probe_name WHERE kit_id IS NULL) < ${mostUnknownNames}
        ON CONFLICT (name) DO NOTHING`;
}

/** One value that came under a name: taken, or impossible and so not kept. */
export interface CountedValue {
  name: string;
  /** ISO 8601. */
  at: string;
  /** The impossible value as it came; null for one that was taken. */
  impossible: number | null;
}

/** Adds to the day's count of each name (UTC days): how many values were taken, how many were impossible. */
export async function countByDay(work: Work, values: readonly CountedValue[]): Promise<void> {
  const rows = values.map(({ name, at, impossible }) => ({
    name,
    day: at.slice(0, 10),
    taken: impossible === null ? 1 : 0,
    rejected: impossible === null ? 0 : 1,
    refused: impossible === null ? '' : String(impossible),
  }));
  if (rows.length === 0) return;
  await work.tx.$executeRaw`
    INSERT INTO probe_day (name, day, taken, rejected, refused)
    SELECT name, day, sum(taken), sum(rejected), coalesce(max(refused), '')
      FROM json_to_recordset(${JSON.stringify(rows)}::json) AS value(name text, day date, taken int, rejected int, refused text)
     GROUP BY name, day
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

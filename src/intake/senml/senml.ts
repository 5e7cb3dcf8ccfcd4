import type { Prisma } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { convert } from '../../science/units.ts';
import { uncertaintyOf } from '../../water/entry/entry.rules.ts';
import { say } from '../../water/quantities/quantities.ts';
import { keepReports, type Report } from '../../water/readings/probe-reports.ts';
import { findOpenWater } from '../../water/systems/systems.ts';
import type { Resolved } from './senml.rules.ts';
import { senmlValue } from './units.rules.ts';

const placed = {
  system: { select: { id: true, name: true, retiredAt: true } },
  kit: { include: { method: { include: { quantity: true } } } },
} satisfies Prisma.ProbeNameInclude;
type ProbeName = Prisma.ProbeNameGetPayload<{ include: typeof placed }>;

/** What became of a pack. */
export interface PackTold {
  taken: number;
  /** Values of an instrument and time that were there already. */
  present: number;
  rejected: { name: string; at: string; value: number; reason: string }[];
  /** Names that stand for nothing yet. A person places them; until then what they report is not kept. */
  unknown: string[];
}

/** Names that wait to be placed are remembered up to this number. */
const mostUnplaced = 200;
const toldAtMost = 100;
const toleranceMs = 5 * 60_000;

/**
 * Keeps the values of a pack, each name by what it stands for. What cannot be is rejected and counted, by name and day;
 * names that stand for nothing are remembered and told. A pack sent twice is kept once.
 */
export async function takePack(work: Work, siteId: string, records: readonly Resolved[]): Promise<PackTold> {
  const names = [...new Set(records.map((one) => one.n))];
  await remember(work, names);
  // Packs of the same names wait for each other, so that one value is never kept twice.
  await work.tx.$executeRaw`SELECT 1 FROM probe_name WHERE name = ANY(${names}) ORDER BY name FOR UPDATE`;
  const known = await work.tx.probeName.findMany({ where: { name: { in: names } }, include: placed });
  const byName = new Map(known.map((one) => [one.name, one]));
  const unknown = names.filter((name) => !byName.get(name)?.kit);
  const read = records.flatMap((record) => {
    const probe = byName.get(record.n);
    return probe === undefined ? [] : readRecord(probe, record, work.now);
  });
  const reports = read.filter((one): one is Report => !('reason' in one));
  const rejected = read.filter((one) => 'reason' in one);
  const kept = await keepReports(work, reports);
  await countDays(work, kept, rejected);
  const taken = kept.length;
  const told = { taken, present: reports.length - taken, rejected: rejected.length, unknown: unknown.length };
  work.note('probes.reported', { type: 'site', id: siteId }, told);
  return {
    taken,
    present: told.present,
    rejected: rejected.slice(0, toldAtMost).map(({ counted, ...one }) => one),
    unknown,
  };
}

async function remember(work: Work, names: readonly string[]): Promise<void> {
  await work.tx.$executeRaw`
    INSERT INTO probe_name (name, created_at)
    SELECT name, ${work.now} FROM unnest(${[...names].sort()}::text[]) AS name
     WHERE (SELECT count(*) FROM probe_name WHERE kit_id IS NULL) < ${mostUnplaced}
        ON CONFLICT (name) DO NOTHING`;
}

interface Rejected {
  name: string;
  at: string;
  value: number;
  reason: string;
  /** True for a value that cannot be, which says something of the instrument. */
  counted: boolean;
}

function readRecord(
  { name, system, kit }: ProbeName,
  { t, v, u }: Resolved,
  now: Date,
): (Report | Rejected)[] {
  if (system === null || kit === null) return [];
  const { method } = kit;
  const { quantity } = method;
  const at = new Date(Math.round(t * 1000));
  const reject = (reason: string, counted: boolean): Rejected[] => [
    { name, at: Number.isNaN(at.getTime()) ? '' : at.toISOString(), value: v, reason, counted },
  ];
  if (system.retiredAt !== null) return reject(`${system.name} is retired`, false);
  if (Number.isNaN(at.getTime()) || at.getTime() > now.getTime() + toleranceMs)
    return reject('lies in the future', false);
  const read = senmlValue(quantity, v, u);
  if ('fault' in read) return reject(read.fault, false);
  const value = canonical(quantity.code, read.value, read.unit, quantity.canonicalUnit);
  if (value === null || value < quantity.possibleLow || value > quantity.possibleHigh)
    return reject(
      `${quantity.name} of ${value === null ? `${read.value} ${read.unit}` : say(quantity, value)} cannot be`,
      true,
    );
  const report = {
    name,
    systemId: system.id,
    quantityCode: quantity.code,
    methodId: method.id,
    kitId: kit.id,
    at,
    value,
  };
  const entered = { enteredText: String(read.value), enteredUnit: read.unit };
  return [{ ...report, ...entered, uncertainty: uncertaintyOf(value, method) }];
}

function canonical(code: string, value: number, unit: string, to: string): number | null {
  try {
    return convert(code, value, unit, to);
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}

async function countDays(
  work: Work,
  reports: readonly Report[],
  rejected: readonly Rejected[],
): Promise<void> {
  const rows = [
    ...reports.map(({ name, at }) => ({
      name,
      day: at.toISOString().slice(0, 10),
      taken: 1,
      rejected: 0,
      refused: '',
    })),
    ...rejected
      .filter((one) => one.counted)
      .map(({ name, at, value }) => ({
        name,
        day: at.slice(0, 10),
        taken: 0,
        rejected: 1,
        refused: String(value),
      })),
  ];
  if (rows.length === 0) return;
  await work.tx.$executeRaw`
    INSERT INTO probe_day (name, day, taken, rejected, refused)
    SELECT name, day, sum(taken), sum(rejected), coalesce(max(refused), '')
      FROM json_to_recordset(${JSON.stringify(rows)}::json) AS said(name text, day date, taken int, rejected int, refused text)
     GROUP BY name, day
        ON CONFLICT (name, day) DO UPDATE
       SET taken = probe_day.taken + excluded.taken, rejected = probe_day.rejected + excluded.rejected,
           refused = CASE WHEN excluded.refused = '' THEN probe_day.refused ELSE excluded.refused END`;
}

/** Every name that ever reported, with what it stands for; those that wait to be placed first. */
export async function listProbeNames(db: Reader): Promise<ProbeName[]> {
  return db.probeName.findMany({
    include: placed,
    orderBy: [{ kitId: { sort: 'asc', nulls: 'first' } }, { name: 'asc' }],
  });
}

/** Says what a name stands for. @throws Refusal 404, 409 for a stale edit, 422 for a kit out of use */
export async function placeProbe(
  work: Work,
  { name, systemId, kitId, version }: { name: string; systemId: string; kitId: string; version: number },
): Promise<{ name: string; system: string; label: string }> {
  const system = await findOpenWater(work.tx, systemId);
  const kit = await work.tx.kit.findUnique({ where: { id: kitId } });
  if (kit === null) throw notFound('This instrument');
  if (kit.retiredAt !== null)
    throw new Refusal(`${kit.label} is out of use. Choose another.`, { field: 'kitId' });
  const { count } = await work.tx.probeName.updateMany({
    where: { name, version },
    data: { systemId, kitId, version: { increment: 1 } },
  });
  if (count === 0) throw staleEdit('What this name stands for');
  work.note('probe.placed', { type: 'kit', id: kitId }, { name, system: system.name, label: kit.label });
  return { name, system: system.name, label: kit.label };
}

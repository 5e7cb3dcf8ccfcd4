import pg from 'pg';
import type { Severity } from '../generated/prisma/enums.ts';
import { KeptByMarks } from '../platform/database/kept-by-marks.ts';
import type { Mark } from '../platform/database/marks.ts';
import type { SqlReader } from '../platform/database/sql-reader.ts';
import { memoize } from '../platform/memoize.ts';

/** An open alert that tells of lots: of one alone, or of several on a rack or under lamps. */
interface TellingAlert {
  severity: Severity;
  putOffUntil: Date | null;
  lots: readonly string[];
}

interface Row {
  systemId: string;
  severity: Severity;
  putOffUntil: Date | null;
  /** Ids, one after the other. */
  lots: string;
}

const query = `
  SELECT system_id AS "systemId", severity, put_off_until AS "putOffUntil", array_to_string(told_lots, ' ') AS lots
    FROM alert WHERE system_id = ANY($1::text[]::uuid[]) AND cleared_at IS NULL AND told_lots IS NOT NULL
   ORDER BY severity DESC, id`;

/** The open alerts of each system that tell of lots, the least urgent first, read anew. One query. */
export async function readLotAlerts(
  reader: SqlReader,
  systemIds: readonly string[],
): Promise<Map<string, readonly TellingAlert[]>> {
  const { rows } = await reader.query<Row>(query, [systemIds]);
  const bySystem = Map.groupBy(rows, ({ systemId }) => systemId);
  const alertOf = ({ severity, putOffUntil, lots }: Row) => ({
    severity,
    putOffUntil,
    lots: lots.split(' '),
  });
  return new Map(systemIds.map((id) => [id, (bySystem.get(id) ?? []).map(alertOf)]));
}

const isStale = (systemId: string, _: unknown, mark: Mark): boolean =>
  mark.part === 'alert' && (mark.systemId === null || mark.systemId === systemId);

/** Systems of which the alerts are kept; own choice. One takes some 5 kB on a farm with many alerts. */
const mostKept = 2000;

const keptOf = memoize(
  (pool: pg.Pool) => new KeptByMarks<readonly TellingAlert[]>(pool, { isStale, most: mostKept }),
);

const systemsQuery = 'SELECT id FROM system';

/** What open alerts tell of lots, of all systems, since a lot may have left the system of an alert that still tells of it. */
async function telling(reader: SqlReader): Promise<readonly TellingAlert[]> {
  const systemIds = (await reader.query<{ id: string }>(systemsQuery)).rows.map(({ id }) => id);
  const read = (ids: readonly string[]) => readLotAlerts(reader, ids);
  // A transaction sees what it changed itself, of which no mark tells others yet.
  const kept = reader instanceof pg.Pool ? await keptOf(reader).of(systemIds, read) : await read(systemIds);
  return [...kept.values()].flat();
}

/**
 * The severity of the most urgent open alert that tells of a lot and is not put off, by lot; of those without one nothing.
 * Two small queries while no alert changes.
 */
export async function lotSeverities(reader: SqlReader, now: Date): Promise<Map<string, Severity>> {
  const told = (await telling(reader)).filter(
    ({ putOffUntil }) => putOffUntil === null || putOffUntil <= now,
  );
  const severities = new Map<string, Severity>();
  for (const severity of ['watch', 'today', 'now'] as const)
    for (const alert of told)
      if (alert.severity === severity) for (const lot of alert.lots) severities.set(lot, severity);
  return severities;
}

/** The lots that an open alert tells of, put off or not. Two small queries while no alert changes. */
export const lotsToldOf = async (reader: SqlReader): Promise<Set<string>> =>
  new Set((await telling(reader)).flatMap(({ lots }) => lots));

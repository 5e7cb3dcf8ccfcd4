import type pg from 'pg';
import { dayOf } from '../../science/numeric/time.ts';
import type { KitRecord } from '../../water/kits/bias.rules.ts';
import { newestOfKit } from '../../water/readings/newest-of-kit.ts';
import { groupBySystem } from '../../water/record/group-by-system.ts';
import { before, longestDays, type Span } from '../../water/record/span.ts';
import { sqlMs, timeOf, withTime } from '../../water/record/times.ts';
import type { KitFact, KitPutAwayFact, OpenedKitFact, ReadingFact } from './types.ts';

/** A kit that is not put away, whether or not anybody uses it. */
export interface KitRow {
  id: string;
  label: string;
  quantityCode: string;
  methodName: string;
  absolute: number;
  relative: number;
  laboratory: boolean;
  probe: boolean;
  openedAt: Date;
  retiredAt: Date | null;
  expiresAt: Date | null;
  uses: number | null;
  /** Checks made with it, voided ones included. */
  checked: number;
  checks: { id: string; at: string; standard: number; value: number; u: number }[];
  /** One water by the kit before and by this one. */
  pairs: { at: string; other: string; old: number; value: number; u: number }[];
}

/** What one system's readings say of a kit. */
export interface KitInSystem {
  kitId: string;
  /** Milliseconds since 1970 of its first standing reading within the history; null where there is none. */
  firstMs: number | null;
  /** Tests made with it here, voided and refuted ones included. */
  tests: number;
}

/** A kit in use, and in which systems since when. */
export interface KitUse extends KitRow {
  used: number;
  /** The system in which it was first used is its home. */
  systems: { systemId: string; name: string; firstMs: number }[];
}

const kitQuery = `
  SELECT kit.id, kit.label, method.quantity_code AS "quantityCode", method.name AS "methodName", method.absolute,
         method.relative, method.laboratory <> '' AS laboratory, method.every_minutes IS NOT NULL AS probe,
         kit.opened_at AS "openedAt", kit.retired_at AS "retiredAt", kit.expires_on::timestamp AT TIME ZONE 'UTC' AS "expiresAt", kit.uses,
         CASE WHEN method.every_minutes IS NULL THEN (SELECT count(*) FROM check_reading WHERE kit_id = kit.id AND at <= $1)::int ELSE 0 END AS checked,
         coalesce((SELECT json_agg(json_build_object('id', id, 'at', at, 'standard', standard_value, 'value', value,
                                   'u', sqrt(method.absolute ^ 2 + (method.relative * standard_value) ^ 2)) ORDER BY at)
                     FROM check_reading WHERE kit_id = kit.id AND voided_at IS NULL AND standard_value > 0 AND at <= $1), '[]') AS checks,
         coalesce((SELECT json_agg(json_build_object('at', at, 'other', old_kit_id, 'old', old_value, 'value', value,
                                   'u', sqrt(method.absolute ^ 2 + (method.relative * old_value) ^ 2)) ORDER BY at)
                     FROM kit_pair WHERE kit_id = kit.id AND voided_at IS NULL AND at <= $1), '[]') AS pairs
    FROM kit JOIN method ON method.id = kit.method_id
   WHERE kit.retired_at IS NULL OR kit.retired_at > $2
   ORDER BY kit.id`;

/** The kits that are not put away, with their checks and their pairs with the kit before. */
export async function loadKits(pool: pg.Pool, span: Span): Promise<KitRow[]> {
  return (await pool.query<KitRow>(kitQuery, [span.now, span.from])).rows;
}

/** The bottles among kits, the newest first: neither probes nor laboratories, and none that is put away. */
export const openedKits = (kits: readonly KitRow[]): OpenedKitFact[] =>
  kits
    .filter(({ probe, laboratory, retiredAt }) => !probe && !laboratory && retiredAt === null)
    .map(({ id, label, quantityCode, openedAt }) => ({ id, label, quantityCode, openedDay: dayOf(openedAt) }))
    .sort((a, b) => b.openedDay - a.openedDay || (a.id < b.id ? 1 : -1));

// Read from the index alone.
const useQuery = `
  SELECT system_id AS "systemId", kit_id AS "kitId",
         date_part('epoch', min(at) FILTER (WHERE at > $1 AND voided_at IS NULL AND trust <> 'refuted' AND slot_id IS NULL)) * 1000 AS "firstMs",
         count(*) FILTER (WHERE supersedes_id IS NULL)::int AS tests
    FROM reading
   WHERE kit_id = ANY($3) AND at <= $2 AND ($4::uuid[] IS NULL OR system_id = ANY($4))
   GROUP BY system_id, kit_id ORDER BY kit_id`;

/** How kits (not probes) are used in the systems asked for (null: in all, put away or not), by system. One query. */
export async function loadKitUse(
  pool: pg.Pool,
  systemIds: readonly string[] | null,
  kits: readonly KitRow[],
  span: Span,
): Promise<Map<string, KitInSystem[]>> {
  type Row = KitInSystem & { systemId: string };
  const ids = kits.filter(({ probe }) => !probe).map(({ id }) => id);
  const values = [before(span, longestDays), span.now, ids, systemIds];
  const { rows } = await pool.query<Row>(useQuery, values);
  return Map.groupBy(rows, (row) => row.systemId);
}

const probeQuery = `
  SELECT kit.id AS "kitId", last.system_id AS "systemId"
    FROM kit JOIN method ON method.id = kit.method_id AND method.every_minutes IS NOT NULL
   CROSS JOIN LATERAL (${newestOfKit('kit.id', 'reading.system_id, at', 'at > $1 AND at <= $2 AND slot_id IS NULL')}) AS last
   WHERE (kit.retired_at IS NULL OR kit.retired_at > $3)
     AND ($4::uuid[] IS NULL OR EXISTS (SELECT FROM reading WHERE kit_id = kit.id AND system_id = ANY($4)))`;

/** The system of the last report of each probe, or of those that ever reported in some systems, by kit. One query. */
export async function loadProbeHomes(
  pool: pg.Pool,
  systemIds: readonly string[] | null,
  span: Span,
): Promise<Map<string, string>> {
  const values = [before(span, longestDays), span.now, span.from, systemIds];
  const { rows } = await pool.query<{ kitId: string; systemId: string }>(probeQuery, values);
  return new Map(rows.map(({ kitId, systemId }) => [kitId, systemId]));
}

/** What is known of the use of kits. */
export interface KitRecords {
  kits: readonly KitRow[];
  here: ReadonlyMap<string, readonly KitInSystem[]>;
  probeHomes: ReadonlyMap<string, string>;
  names: ReadonlyMap<string, { name: string; retired: boolean }>;
}

/**
 * The kits that somebody uses. A kit belongs to the kept system in which it was first used; one that nobody used yet
 * belongs nowhere. A probe belongs to the system of its last report.
 */
export function kitsInUse({ kits, here, probeHomes, names }: KitRecords): KitUse[] {
  const uses = new Map<string, { systemId: string; firstMs: number | null; tests: number }[]>();
  for (const [systemId, list] of here) {
    for (const { kitId, firstMs, tests } of list) {
      const known = uses.get(kitId) ?? [];
      known.push({ systemId, firstMs, tests });
      uses.set(kitId, known);
    }
  }
  const isKept = (systemId: string) => names.get(systemId)?.retired === false;
  const nameOf = (systemId: string) => names.get(systemId)?.name ?? '';
  return kits.flatMap((kit): KitUse[] => {
    const own = uses.get(kit.id) ?? [];
    const home = probeHomes.get(kit.id);
    const all = kit.probe
      ? home === undefined
        ? []
        : [{ systemId: home, firstMs: kit.openedAt.getTime() }]
      : own;
    const systems = all
      .flatMap(({ systemId, firstMs }) =>
        firstMs !== null && isKept(systemId) ? [{ systemId, name: nameOf(systemId), firstMs }] : [],
      )
      .sort((a, b) => a.firstMs - b.firstMs || (a.systemId < b.systemId ? -1 : 1));
    if (systems.length === 0) return [];
    const tests = own.reduce((sum, { tests }) => sum + tests, 0);
    return [{ ...kit, used: kit.checked + tests, systems }];
  });
}

/** The system a kit belongs to. */
export const homeOf = (kit: KitUse): string => kit.systems[0]?.systemId ?? '';

/** A kit with the readings, by any kit, of the water it is used in (by system), and those about its first use; `middle` of the band its home keeps, if any. */
export function kitFact(
  kit: KitUse,
  readings: (systemId: string) => readonly ReadingFact[] | undefined,
  middle: number | null,
  openings: KitRecord['systems'],
): KitFact {
  const { id, label, quantityCode, methodName, openedAt, expiresAt, uses, used, laboratory, probe } = kit;
  const systems = kit.systems.map(({ systemId, name, firstMs }) => ({
    systemId,
    name,
    firstDay: timeOf(firstMs).day,
    readings: readings(systemId) ?? [],
  }));
  const last = systems.map((used) => used.readings.findLast((reading) => reading.kitId === id)?.value);
  return {
    id,
    label,
    quantityCode,
    methodName,
    u: Math.hypot(kit.absolute, kit.relative * (last.find((value) => value !== undefined) ?? middle ?? 0)),
    expiresDay: expiresAt === null ? null : dayOf(expiresAt),
    uses,
    used,
    laboratory,
    probe,
    openedDay: dayOf(openedAt),
    openedAt: openedAt.toISOString(),
    retiredDay: kit.retiredAt === null ? null : dayOf(kit.retiredAt),
    checks: kit.checks.map((check) => ({ ...check, ...moment(check.at) })),
    pairs: kit.pairs.map(({ at, ...pair }) => ({ ...pair, day: moment(at).day })),
    systems,
    openings,
  };
}

function moment(text: string) {
  const at = new Date(text);
  return { at: at.toISOString(), day: dayOf(at) };
}

/** A kit put away longer ago than this has been replaced, or the quantity is not tested any more. */
const rememberedDays = 60;

interface PutAwayRow extends Omit<KitPutAwayFact, 'day' | 'at' | 'others'> {
  systemId: string;
  ms: number;
  others: (Omit<KitPutAwayFact['others'][number], 'openedDay'> & { openedMs: number })[];
}

// Probes and laboratories are no kits of the cupboard.
const putAwayQuery = `
  SELECT used.system_id AS "systemId", kit.id, kit.label, method.quantity_code AS "quantityCode", ${sqlMs('kit.retired_at')},
         coalesce((SELECT json_agg(json_build_object('id', other.id, 'label', other.label,
                                     'openedMs', date_part('epoch', other.opened_at) * 1000,
                                     'tested', (SELECT count(*) FROM check_reading WHERE kit_id = other.id AND voided_at IS NULL AND at <= $3)
                                             + (SELECT count(*) FROM kit_pair WHERE kit_id = other.id AND voided_at IS NULL AND at <= $3),
                                     'usedHere', EXISTS (SELECT 1 FROM reading WHERE kit_id = other.id AND reading.system_id = used.system_id
                                                            AND at > $2 AND at <= $3 AND voided_at IS NULL))
                                   ORDER BY other.opened_at DESC, other.id)
                     FROM kit AS other JOIN method AS way ON way.id = other.method_id
                    WHERE way.quantity_code = method.quantity_code AND way.every_minutes IS NULL AND way.laboratory = ''
                      AND other.id <> kit.id AND other.opened_at <= $3 AND (other.retired_at IS NULL OR other.retired_at > $3)), '[]') AS others
    FROM kit JOIN method ON method.id = kit.method_id AND method.every_minutes IS NULL AND method.laboratory = ''
   CROSS JOIN LATERAL (
     SELECT asked.id AS system_id FROM unnest($1::uuid[]) AS asked(id)
      WHERE EXISTS (SELECT 1 FROM reading WHERE kit_id = kit.id AND reading.system_id = asked.id AND at > kit.retired_at - interval '30 days'
                       AND at <= $3 AND voided_at IS NULL)) AS used
   WHERE kit.retired_at > $2 AND kit.retired_at <= $3
   ORDER BY kit.retired_at, kit.id`;

/** The kits put away within the last 60 days that were used in a system until then, by system. */
export async function loadKitsPutAway(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, KitPutAwayFact[]>> {
  const { rows } = await pool.query<PutAwayRow>(putAwayQuery, [
    systemIds,
    before(span, rememberedDays),
    span.now,
  ]);
  return groupBySystem(rows, ({ others, ...row }) => ({
    ...withTime(row),
    others: others.map(({ openedMs, ...other }) => ({ ...other, openedDay: timeOf(openedMs).day })),
  }));
}

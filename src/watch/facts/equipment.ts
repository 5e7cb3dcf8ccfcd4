import type pg from 'pg';
import { groupBySystem } from '../../water/record/group-by-system.ts';
import { before, type Span } from '../../water/record/span.ts';
import { sqlMs, timeOf, withTime } from '../../water/record/times.ts';
import type { FaultFact, LookFact, SwitchedOffFact } from './types.ts';

/** What runs again is told of for so long, for the tests that are asked for afterwards; what is off always. */
const offDays = 60;

interface OffRow extends Omit<SwitchedOffFact, 'day' | 'at' | 'dueDay' | 'lateDay' | 'onDay'> {
  systemId: string;
  ms: number;
  dueMs: number;
  lateMs: number;
  onMs: number | null;
}

const offQuery = `
  SELECT off.id, off.system_id AS "systemId", ${sqlMs('off.off_at')}, ${sqlMs('off.due_at', '"dueMs"')}, ${sqlMs('off.late_at', '"lateMs"')},
         ${sqlMs('CASE WHEN off.seen_running_at <= $3 THEN off.seen_running_at END', '"onMs"')},
         off.thing, off.what, off.why, off.on_return AS "onReturn", off.equipment_id AS "equipmentId", off.feeding_id AS "feedingId",
         equipment.removed_at IS NOT NULL AS removed,
         off.tank_id AS "tankId", coalesce(tank.name, '') AS "tankName", coalesce(account.name, '') AS keeper
    FROM switched_off AS off LEFT JOIN tank ON tank.id = off.tank_id LEFT JOIN account ON account.id = off.keeper_id
         LEFT JOIN equipment ON equipment.id = off.equipment_id
   WHERE off.system_id = ANY($1) AND off.off_at <= $3 AND off.voided_at IS NULL
     AND (off.seen_running_at IS NULL OR off.seen_running_at > $2)
   ORDER BY off.off_at, off.id`;

/** What is off for now, and what was within 60 days, oldest first, by system. */
export async function loadSwitchedOff(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, SwitchedOffFact[]>> {
  const { rows } = await pool.query<OffRow>(offQuery, [systemIds, before(span, offDays), span.now]);
  return groupBySystem(rows, ({ dueMs, lateMs, onMs, ...row }) => ({
    ...withTime(row),
    dueDay: timeOf(dueMs).day,
    lateDay: timeOf(lateMs).day,
    onDay: onMs === null ? null : timeOf(onMs).day,
  }));
}

interface FaultRow extends Omit<FaultFact, 'day' | 'at' | 'mendedDay'> {
  systemId: string;
  ms: number;
  mendedMs: number | null;
}

const faultQuery = `
  SELECT fault.id, fault.system_id AS "systemId", ${sqlMs('fault.noted_at')},
         ${sqlMs('CASE WHEN fault.mended_at <= $3 THEN fault.mended_at END', '"mendedMs"')},
         fault.seen, fault.equipment_id AS "equipmentId", coalesce(equipment.name, '') AS equipment, equipment.kind,
         coalesce(account.name, '') AS by, fault.left_out IS NOT NULL AS "leftOut"
    FROM fault LEFT JOIN equipment ON equipment.id = fault.equipment_id LEFT JOIN account ON account.id = fault.account_id
   WHERE fault.system_id = ANY($1) AND fault.noted_at <= $3 AND (fault.mended_at IS NULL OR fault.mended_at > $2)
   ORDER BY fault.noted_at, fault.id`;

/** Faults that nobody mended yet, or that were mended since the span began, oldest first, by system. */
export async function loadFaults(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, FaultFact[]>> {
  const { rows } = await pool.query<FaultRow>(faultQuery, [systemIds, before(span, 0), span.now]);
  return groupBySystem(rows, ({ mendedMs, ...row }) => ({
    ...withTime(row),
    mendedDay: mendedMs === null ? null : timeOf(mendedMs).day,
  }));
}

interface LookRow extends Omit<LookFact, 'day' | 'at' | 'dueDay' | 'doneDay'> {
  systemId: string;
  ms: number;
  dueMs: number;
  doneMs: number | null;
}

const lookQuery = `
  SELECT id, system_id AS "systemId", ${sqlMs('created_at')}, ${sqlMs('due_at', '"dueMs"')},
         ${sqlMs('CASE WHEN done_at <= $3 THEN done_at END', '"doneMs"')}, title, detail, href, urgent
    FROM look WHERE system_id = ANY($1) AND created_at <= $3 AND (done_at IS NULL OR done_at > $2) ORDER BY due_at, id`;

/** Looks that are asked for, or were taken since the span began, due first, by system. */
export async function loadLooks(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, LookFact[]>> {
  const { rows } = await pool.query<LookRow>(lookQuery, [systemIds, before(span, 0), span.now]);
  return groupBySystem(rows, ({ dueMs, doneMs, ...row }) => ({
    ...withTime(row),
    dueDay: timeOf(dueMs).day,
    doneDay: doneMs === null ? null : timeOf(doneMs).day,
  }));
}

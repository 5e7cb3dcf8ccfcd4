import type { EventKind, SystemEvent } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { notFound } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { findOpenSystem } from '../systems/systems.ts';

/** Logs what changes a system's habits. @throws Refusal 404, 422 when the system is retired */
export async function logEvent(
  work: Work,
  systemId: string,
  input: { kind: EventKind; at: Date; note: string },
): Promise<{ id: string }> {
  await findOpenSystem(work.tx, systemId);
  const row = { systemId, ...input, accountId: work.accountId, createdAt: work.now };
  const { id } = await work.tx.systemEvent.create({ data: row });
  work.record('system_event.logged', { type: 'system_event', id }, input);
  work.reevaluate(systemId);
  return { id };
}

/** Takes an event back, with a reason; what was learnt before it counts again. @throws Refusal 404 */
export async function voidEvent(work: Work, id: string, reason: string): Promise<SystemEvent> {
  const event = await work.tx.systemEvent.findUnique({ where: { id } });
  if (event === null) throw notFound('This event');
  const end = { voidedAt: work.now, voidReason: reason };
  await work.tx.systemEvent.updateMany({ where: { id, voidedAt: null }, data: end });
  work.record('system_event.voided', { type: 'system_event', id }, { reason });
  work.reevaluate(event.systemId);
  return event;
}

/** The events of a system, newest first. */
export function listEvents(db: Reader, systemId: string): Promise<SystemEvent[]> {
  return db.systemEvent.findMany({ where: { systemId }, orderBy: { at: 'desc' }, take: 50 });
}

/** The last event of each system that had one until a moment: what was learnt of it begins there. One query. */
export async function lastEvents(
  reader: SqlReader,
  systemIds: readonly string[],
  until: Date,
): Promise<Map<string, { at: Date; kind: EventKind }>> {
  const query = `
    SELECT DISTINCT ON (system_id) system_id AS "systemId", at, kind FROM system_event
     WHERE system_id = ANY($1::text[]::uuid[]) AND at <= $2 AND voided_at IS NULL ORDER BY system_id, at DESC`;
  const { rows } = await reader.query<{ systemId: string; at: Date; kind: EventKind }>(query, [
    systemIds,
    until,
  ]);
  return new Map(rows.map(({ systemId, ...event }) => [systemId, event]));
}

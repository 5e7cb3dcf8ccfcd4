import type pg from 'pg';
import type { Circuit } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import type { CircuitEdit, CircuitInput } from './circuits.schema.ts';

/** @throws Refusal 404 */
export async function findCircuit(db: Reader, id: string): Promise<Circuit> {
  const circuit = await db.circuit.findUnique({ where: { id } });
  if (circuit === null) throw notFound('This circuit');
  return circuit;
}

/** A circuit in a list, with how much hangs on it. */
export interface CircuitLine extends Pick<Circuit, 'id' | 'name' | 'place' | 'protection' | 'testEveryDays'> {
  devices: number;
  testedAt: Date | null;
}

/** The circuits of a site by name. One query. */
export async function listCircuits(pool: pg.Pool, siteId: string): Promise<CircuitLine[]> {
  const query = `
    SELECT id, name, place, protection, test_every_days AS "testEveryDays",
           (SELECT count(*)::int FROM equipment WHERE circuit_id = circuit.id AND removed_at IS NULL) AS devices,
           (SELECT max(at) FROM upkeep WHERE circuit_id = circuit.id) AS "testedAt"
      FROM circuit WHERE site_id = $1 AND removed_at IS NULL ORDER BY name`;
  return (await pool.query<CircuitLine>(query, [siteId])).rows;
}

export async function addCircuit(work: Work, siteId: string, input: CircuitInput): Promise<{ id: string }> {
  const { id } = await work.tx.circuit.create({ data: { ...input, siteId, createdAt: work.now } });
  work.record('circuit.added', { type: 'circuit', id }, input);
  return { id };
}

/** Changes a circuit, or takes it out of use. @throws Refusal 404, 409 on a stale edit or while something hangs on it */
export async function editCircuit(
  work: Work,
  id: string,
  { version, removed, ...after }: CircuitEdit,
): Promise<Circuit> {
  // What is hung on it meanwhile waits, and then finds it out of use.
  await work.tx.$queryRaw`SELECT 1 FROM circuit WHERE id = ${id}::uuid FOR UPDATE`;
  const before = await findCircuit(work.tx, id);
  if (removed && (await work.tx.equipment.count({ where: { circuitId: id, removedAt: null } })) > 0)
    throw new Refusal('Equipment is still on this circuit. Choose another circuit for each device first.', {
      status: 409,
      field: 'removed',
    });
  const removedAt = removed ? (before.removedAt ?? work.now) : null;
  const data = { ...after, removedAt, version: { increment: 1 } };
  const changed = await work.tx.circuit.updateMany({ where: { id, version }, data });
  if (changed.count === 0) throw staleEdit('this circuit');
  work.record('circuit.changed', { type: 'circuit', id }, { before, after: { ...after, removedAt } });
  return before;
}

import type { Work } from '../../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Reader, Tx } from '../../platform/service.ts';
import { keptLitres } from '../../platform/units/measures.ts';
import type { SystemEdit, SystemInput } from './systems.schema.ts';

/** One body of shared water. */
export interface System {
  id: string;
  siteId: string;
  name: string;
  /** Net volume in litres: what is in it once rock, sand and equipment are. */
  volumeL: number;
  note: string;
  /** The kind of stock it is meant for; null where nobody said. */
  stockKindId: string | null;
  position: number;
  /** Since when it is out of service; null while it serves. */
  retiredAt: Date | null;
  version: number;
}

/** How many lots stand in a system now. Lots belong to the stock, an area above this one, so callers bring the answer. */
export type CountLots = (tx: Tx, systemId: string) => Promise<number>;

/** @throws Refusal 404 */
export async function findSystem(db: Reader, id: string): Promise<System> {
  const row = await db.system.findUnique({ where: { id } });
  if (row === null) throw notFound('This system');
  return row;
}

/** Gives a new system the bands it starts with. Water and care belong to areas above this one, so callers bring it. */
export type StartBands = (work: Work, systemId: string) => Promise<void>;

/** Adds a system, with the bands it starts with. */
export async function addSystem(
  work: Work,
  siteId: string,
  input: SystemInput,
  startBands: StartBands,
): Promise<{ id: string }> {
  const position = await work.tx.system.count({ where: { siteId } });
  const { id } = await work.tx.system.create({ data: { ...input, siteId, position } });
  await startBands(work, id);
  work.record('system.created', { type: 'system', id }, input);
  work.reevaluate(id);
  return { id };
}

/**
 * Changes name, volume or note, or takes the system out of service and back into it.
 * @throws Refusal 409 on a stale edit, or when lots still stand in a system that should go out of service
 */
export async function editSystem(
  work: Work,
  id: string,
  input: SystemEdit,
  countLots: CountLots,
): Promise<void> {
  const before = await findSystem(work.tx, id);
  const { version, retired, ...said } = input;
  const rest = { ...said, volumeL: keptLitres(before.volumeL, said.volumeL) };
  if (retired && before.retiredAt === null) await refuseWhileOccupied(work, id, countLots);
  const retiredAt = retired ? (before.retiredAt ?? work.now) : null;
  const data = { ...rest, retiredAt, version: { increment: 1 } };
  const changed = await work.tx.system.updateMany({ where: { id, version }, data });
  if (changed.count === 0) throw staleEdit('this system');
  work.record('system.changed', { type: 'system', id }, { before, after: { ...rest, retired } });
  work.reevaluate(id);
}

/** Waits for lots on their way into the system, and keeps others out until the change is done. */
async function refuseWhileOccupied(work: Work, systemId: string, countLots: CountLots): Promise<void> {
  await work.tx.$queryRaw`SELECT 1 FROM system WHERE id = ${systemId}::uuid FOR UPDATE`;
  const count = await countLots(work.tx, systemId);
  if (count === 0) return;
  const lots = count === 1 ? 'One lot is still' : `${count} lots are still`;
  throw new Refusal(`${lots} in this system. Move them first, then take it out of service.`, {
    status: 409,
    field: 'retired',
  });
}

/** Keeps the order in which a system's quantities are tested. */
export async function keepBenchOrder(work: Work, systemId: string, order: readonly string[]): Promise<void> {
  const { name } = await work.tx.system.update({ where: { id: systemId }, data: { benchOrder: [...order] } });
  work.record('bench.ordered', { type: 'system', id: systemId }, { system: name, order });
}

/** The systems in service, in the order of the farm; of one site, or of all. */
export async function systemsInService(db: Reader, siteId?: string): Promise<{ id: string; name: string }[]> {
  return db.system.findMany({
    where: { retiredAt: null, ...(siteId === undefined ? {} : { siteId }) },
    orderBy: [{ position: 'asc' }, { name: 'asc' }],
    select: { id: true, name: true },
  });
}

/** A system that is in service. @throws Refusal 404; 422 when it is retired */
export async function findOpenSystem(db: Reader, id: string): Promise<System> {
  const system = await findSystem(db, id);
  if (system.retiredAt === null) return system;
  throw new Refusal(`${system.name} is out of service, so nothing can be entered for it.`);
}

/** The systems in service of a site, in their order. */
export function listOpenSystems(db: Reader, siteId: string): Promise<{ id: string; name: string }[]> {
  return db.system.findMany({
    where: { siteId, retiredAt: null },
    orderBy: [{ position: 'asc' }, { name: 'asc' }],
    select: { id: true, name: true },
  });
}

/** What may never be done to a system: it is said once, and counts from then on. */
export const neverDone = ['doses', 'changes'] as const;
export type NeverDone = (typeof neverDone)[number];

/** Since when somebody says that it is never done there; null where nobody does. */
export interface NeverDoneSince {
  doses: Date | null;
  changes: Date | null;
}

/** What a system is said never to be given. */
export async function neverDoneIn(db: Reader, id: string): Promise<NeverDoneSince> {
  const { undosedSince, unchangedSince } = await db.system.findUniqueOrThrow({ where: { id } });
  return { doses: undosedSince, changes: unchangedSince };
}

/**
 * Says that nothing is dosed in a system, or that no water is changed there, from a day on; null takes it back.
 * @throws Refusal 404; 422 when the system is retired; 409 when it is said already, so that its day stays
 */
export async function sayNeverDone(
  work: Work,
  id: string,
  what: NeverDone,
  since: Date | null,
): Promise<void> {
  const { name } = await findOpenSystem(work.tx, id);
  const said = (await neverDoneIn(work.tx, id))[what];
  if ((said === null) === (since === null))
    throw new Refusal('Somebody said so meanwhile. Nothing was changed.', { status: 409 });
  const data = what === 'doses' ? { undosedSince: since } : { unchangedSince: since };
  await work.tx.system.update({ where: { id }, data });
  work.record('system.never_done', { type: 'system', id }, { system: name, what, since });
  work.reevaluate(id);
}

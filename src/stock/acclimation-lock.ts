import type { Work } from '../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../platform/refusal.ts';
import { poolOf } from './acclimation-ask.ts';
import { type Acclimation, isRunning, readAcclimations } from './acclimation-state.ts';

/** Waits for whoever else changes this acclimation. @throws Refusal 404; 409 when it has ended */
export async function lockRunning(work: Work, id: string): Promise<Acclimation> {
  await work.tx.$queryRaw`SELECT id FROM acclimation WHERE id = ${id}::uuid FOR UPDATE`;
  const [acclimation] = await readAcclimations(poolOf(work.tx), { id });
  if (acclimation === undefined) throw notFound('This acclimation');
  if (!isRunning(acclimation)) throw new Refusal('This acclimation has ended already.', { status: 409 });
  return acclimation;
}

/** Counts its version on with what else changes. */
export async function bump(work: Work, { id }: Acclimation, data: object = {}): Promise<void> {
  await work.tx.acclimation.update({ where: { id }, data: { ...data, version: { increment: 1 } } });
}

/** @throws Refusal 409 when the page was drawn before the last change */
export function sameVersion(acclimation: Acclimation, version: number): void {
  if (acclimation.version !== version) throw staleEdit('this acclimation');
}

/** Has the systems evaluated in which its lots stand. */
export async function touchSystems(work: Work, lotIds: readonly string[]): Promise<void> {
  const systems = await work.tx.$queryRaw<{ id: string }[]>`
    SELECT DISTINCT system_id AS id FROM lot_place WHERE lot_id = ANY(${[...lotIds]}::uuid[])`;
  for (const { id } of systems) work.touch(id);
}

/** The acclimation as a journal line names it. */
export const acclimationSubject = (id: string) => ({ type: 'acclimation', id });

import type { Work } from '../platform/change.ts';
import { notFound, staleEdit } from '../platform/refusal.ts';
import { askTx } from './correction-rows.ts';
import { type CorrectionState, readCorrections } from './correction-state.ts';

/** Waits for whoever else changes this correction. @throws Refusal 404 */
export async function lock(work: Work, id: string): Promise<CorrectionState> {
  const locked = await work.tx.$queryRaw<
    { id: string }[]
  >`SELECT id FROM correction WHERE id = ${id}::uuid FOR UPDATE`;
  if (locked.length === 0) throw notFound('This correction');
  const [state] = await readCorrections(askTx(work.tx), { id }, work.now);
  if (state === undefined) throw notFound('This correction');
  return state;
}

/** Counts the correction's version on, with what else changes. */
export async function bump(work: Work, state: CorrectionState, data: object = {}): Promise<void> {
  await work.tx.correction.update({ where: { id: state.id }, data: { ...data, version: { increment: 1 } } });
}

/** @throws Refusal 409 when the page was drawn before the last change */
export function sameVersion(state: CorrectionState, version: number): void {
  if (state.version !== version) throw staleEdit('this correction');
}

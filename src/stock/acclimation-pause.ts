import type { ConditionState } from '../generated/prisma/enums.ts';
import type { Work } from '../platform/change.ts';
import { conditionWords } from './conditions.rules.ts';

interface Look {
  code: string;
  lotId: string;
  state: ConditionState;
  grade: number | null;
  at: Date;
}

/**
 * Holds the acclimation of a lot back when it was seen paling or bleached within it. A recovery is not: it begins with
 * a bleached lot, and raises it only after it was found well.
 */
export async function pauseForLook(work: Work, { code, lotId, state, grade, at }: Look): Promise<void> {
  if (state !== 'paling' && state !== 'bleached') return;
  const reason = `${code} was seen ${conditionWords(state, grade).toLowerCase()}`;
  const paused = await work.tx.$queryRaw<{ id: string; name: string }[]>`
    UPDATE acclimation SET paused_at = ${work.now}, pause_reason = ${reason}, version = version + 1
     WHERE ended_at IS NULL AND paused_at IS NULL AND purpose <> 'recovery' AND created_at <= ${at}
       AND id IN (SELECT acclimation_id FROM acclimation_lot WHERE lot_id = ${lotId}::uuid AND ended_at IS NULL)
    RETURNING id, name`;
  for (const { id, name } of paused)
    work.note('acclimation.paused', { type: 'acclimation', id }, { name, reason });
}

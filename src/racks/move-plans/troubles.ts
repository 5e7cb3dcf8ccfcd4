import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { isOpen, isRunning } from '../../platform/plans/plans.rules.ts';
import { troublesOfMoves } from '../../stock/pests/troubles.ts';
import type { MovePlanState } from './state.ts';

/** What speaks against the open moves of running plans while an alert is open on their water, by the move's id. Three queries. */
export async function openMoveTroubles(
  reader: SqlReader,
  plans: readonly MovePlanState[],
): Promise<ReadonlyMap<string, string>> {
  const open = plans.filter(isRunning).flatMap(({ moves }) => moves.filter(isOpen));
  if (open.length === 0) return new Map();
  const byLot = await troublesOfMoves(reader, open);
  return new Map(
    open.flatMap(({ id, lotId, slotIds }) => {
      const why = slotIds.length === 0 ? '' : (byLot.get(lotId)?.why ?? '');
      return why === '' ? [] : [[id, why] as const];
    }),
  );
}

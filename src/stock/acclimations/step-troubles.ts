import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { troublesOfMoves, troublesOfWaters } from '../pests/troubles.ts';
import type { AcclimationStep } from './state.ts';

/** What speaks against steps while an alert is open on their water, by the step's id: moves in it, and lamps over it. Four queries. */
export async function stepTroubles(
  reader: SqlReader,
  steps: readonly AcclimationStep[],
): Promise<ReadonlyMap<string, string>> {
  if (steps.length === 0) return new Map();
  const moves = steps.flatMap(({ id, lotId, code, slotIds }) =>
    lotId === null || slotIds.length === 0 ? [] : [{ id, lotId, code: code ?? '', slotIds }],
  );
  const byLot = await troublesOfMoves(reader, moves);
  const lamps = steps.filter(({ lampId, systemId }) => lampId !== null && systemId !== null);
  const byWater = await troublesOfWaters(
    reader,
    lamps.map(({ systemId }) => systemId ?? ''),
  );
  const said = [
    ...moves.map(({ id, lotId }) => [id, byLot.get(lotId)?.why ?? ''] as const),
    ...lamps.map(({ id, systemId }) => [id, byWater.get(systemId ?? '') ?? ''] as const),
  ];
  return new Map(said.filter(([, why]) => why !== ''));
}

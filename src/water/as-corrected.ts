import type pg from 'pg';
import { withoutBias } from './kit-bias.rules.ts';
import { kitBiases } from './kit-bias.ts';

/** A reading as it would be without its kit's bias, and by how much the kit is known to read wrong; canonical. */
export interface Corrected {
  value: number;
  uncertainty: number;
  /** Relative: -0.1 reads 10 % low. */
  bias: number;
  biasSd: number;
}

interface Read {
  value: number;
  uncertainty: number;
  below: boolean;
  kitId: string | null;
}

/** Readings with what they come to where their kit is known to read wrong (else null). Two queries. */
export async function withCorrected<R extends Read>(
  pool: pg.Pool,
  readings: readonly R[],
): Promise<(R & { corrected: Corrected | null })[]> {
  const kits = [...new Set(readings.flatMap(({ kitId }) => (kitId === null ? [] : [kitId])))];
  const biases = await kitBiases(pool, kits);
  return readings.map((reading) => {
    const kit = biases.get(reading.kitId ?? '');
    const right = withoutBias(reading, kit);
    const known = { bias: kit?.bias ?? 0, biasSd: kit?.sd ?? 0 };
    return { ...reading, corrected: right === null ? null : { ...right, ...known } };
  });
}

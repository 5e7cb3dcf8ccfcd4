import { readerOf } from '../../platform/database/sql-reader.ts';
import type { Reader } from '../../platform/service.ts';
import type { WaterSystem } from '../systems/systems.ts';
import { type ChangeContext, movedByChange } from './change-check.rules.ts';

const levelsQuery = `
  SELECT DISTINCT ON (quantity_code) quantity_code AS code, value FROM reading_with_vote
   WHERE system_id = $1::text::uuid AND quantity_code = ANY($2) AND voided_at IS NULL AND trust IN ('plain', 'confirmed')
     AND NOT below_detection AND NOT above_scale AND slot_id IS NULL
     AND at <= $3::timestamptz AND at > $3::timestamptz - interval '7 days'
   ORDER BY quantity_code, at DESC`;

/** The usual change in litres: the middle of 120 days, a correction's own left out, or what a routine plans. */
const usualQuery = `
  SELECT greatest(
    (SELECT percentile_cont(0.5) WITHIN GROUP (ORDER BY volume_l) FROM water_change AS change
      WHERE system_id = $1::text::uuid AND voided_at IS NULL
        AND at < $2::timestamptz AND at > $2::timestamptz - interval '120 days'
        AND NOT EXISTS (SELECT FROM correction_step WHERE water_change_id = change.id)),
    (SELECT max((detail->>'volumeL')::float8) FROM routine
      WHERE system_id = $1::text::uuid AND work = 'water_change' AND ended_at IS NULL)) AS "volumeL"`;

/** What a water change is compared with; two queries, and the quantities it moves. */
export async function readChangeContext(
  tx: Reader,
  { id, volumeL }: Pick<WaterSystem, 'id' | 'volumeL'>,
  at: Date,
): Promise<Omit<ChangeContext, 'newWater'>> {
  const reader = readerOf(tx);
  const levels = await reader.query<{ code: string; value: number }>(levelsQuery, [id, movedByChange, at]);
  const usual = await reader.query<{ volumeL: number | null }>(usualQuery, [id, at]);
  const usualL = usual.rows[0]?.volumeL ?? null;
  return {
    quantities: await tx.quantity.findMany({
      where: { code: { in: [...movedByChange] } },
      orderBy: { position: 'asc' },
    }),
    levels: Object.fromEntries(levels.rows.map(({ code, value }) => [code, value])),
    usual: usualL === null ? null : usualL / volumeL,
  };
}

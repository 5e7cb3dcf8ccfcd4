import type pg from 'pg';
import { exchangeHabit } from '../../science/filter/habit.ts';
import type { Habit } from '../../science/filter/nitrate-types.ts';
import { type KitBias, kitBiases } from '../kits/bias.ts';
import { readWaterRecord, type WaterRecord } from '../record/water-record.ts';
import {
  estimateDay,
  habitStart,
  learntReadings,
  type NitrateEstimate,
  nitrateEstimate,
} from './nitrate.rules.ts';

/** What is estimated of one system's water, and which of the written-down data it uses. */
export interface WaterEstimates {
  record: WaterRecord;
  /** The kits that read here, judged. */
  biases: ReadonlyMap<string, KitBias>;
  /** The habit of water changes. */
  habit: Habit;
  /** Null where there is no reading to rest on. */
  nitrate: NitrateEstimate | null;
}

/**
 * The estimates of these systems at `now`. Nine queries, however many systems.
 *
 * @param codes the quantities of which the record is read besides nitrate
 */
export async function readEstimates(
  pool: pg.Pool,
  systemIds: readonly string[],
  now: Date,
  codes: readonly string[] = [],
): Promise<Map<string, WaterEstimates>> {
  const records = await readWaterRecord(pool, systemIds, ['nitrate', ...codes], now);
  const read = [...records.values()].flatMap(({ readings }) => [...readings.values()].flat());
  const used = [...new Set(read.flatMap(({ kitId }) => (kitId === null ? [] : [kitId])))];
  const kits = await pool.query<{ id: string }>(kitsInUse, [used, now]);
  const biases = await kitBiases(
    pool,
    kits.rows.map(({ id }) => id),
  );
  return new Map(
    [...records].map(([id, record]) => {
      const nitrate = nitrateEstimate(record, biases, now);
      const readings = learntReadings(record, 'nitrate', biases);
      const changes = record.changes.map((change) => ({ ...change, makeUp: 0 }));
      const since = habitStart(record, readings);
      const habit = exchangeHabit(changes, since, estimateDay(record, readings, now));
      return [id, { record, biases, habit: nitrate?.state.habit ?? habit, nitrate }];
    }),
  );
}

const kitsInUse = `SELECT id FROM kit WHERE id = ANY($1::uuid[]) AND (retired_at IS NULL OR retired_at > $2)`;

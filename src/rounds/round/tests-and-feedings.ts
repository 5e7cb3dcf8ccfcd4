import type pg from 'pg';
import { displayNow } from '../../platform/units/reader-quantities.ts';
import { type Quantity, sayReading } from '../../water/quantities/quantities.ts';

/** What was tested in a system since a moment. */
export interface Tested {
  systemId: string;
  code: string;
  at: Date;
  who: string | null;
  /** "Alkalinity 8.3 dKH". */
  said: string;
}

type TestedRow = Omit<Tested, 'said'> &
  Pick<Quantity, 'name' | 'canonicalUnit' | 'displayUnit' | 'decimals'> & {
    value: number;
    below: boolean;
    above: boolean;
  };

const testedQuery = `
  SELECT reading.system_id AS "systemId", reading.at, account.name AS who, reading.value,
         reading.below_detection AS below, reading.above_scale AS above, quantity.code, quantity.name,
         quantity.canonical_unit AS "canonicalUnit", quantity.display_unit AS "displayUnit", quantity.decimals
    FROM reading
    JOIN quantity ON quantity.code = reading.quantity_code
    LEFT JOIN account ON account.id = reading.account_id
   WHERE reading.system_id = ANY($1) AND reading.at >= $2 AND reading.at <= $3 AND reading.slot_id IS NULL
     AND reading.account_id IS NOT NULL AND reading.voided_at IS NULL
     AND NOT EXISTS (SELECT 1 FROM reading AS later WHERE later.supersedes_id = reading.id)
   ORDER BY reading.at, quantity.position`;

/** Readings that people entered of these systems within a time; what instruments send is not a test. One query. */
export async function testedBetween(
  pool: pg.Pool,
  systemIds: readonly string[],
  from: Date,
  to: Date,
): Promise<Tested[]> {
  const { rows } = await pool.query<TestedRow>(testedQuery, [systemIds, from, to]);
  return rows.map(({ value, below, above, systemId, at, who, ...quantity }) => ({
    systemId,
    code: quantity.code,
    at,
    who,
    said: `${quantity.name} ${sayReading(displayNow(quantity), { value, below, above })}`,
  }));
}

/** A feeding, and whether the pumps run again. */
export interface Fed {
  id: string;
  systemId: string;
  system: string;
  tank: string | null;
  at: Date;
  who: string | null;
  food: string;
  amountG: number | null;
  pumpsOffMin: number | null;
  pumpsOnAt: Date | null;
  /** How it was taken, in words; empty where nobody said. */
  response: string;
}

const fedColumns = `
  SELECT feeding.id, feeding.system_id AS "systemId", system.name AS system, tank.name AS tank, feeding.at,
         account.name AS who, feeding.food, feeding.amount_g AS "amountG", feeding.pumps_off_min AS "pumpsOffMin",
         off.seen_running_at AS "pumpsOnAt", feeding.response
    FROM feeding
    JOIN system ON system.id = feeding.system_id
    LEFT JOIN tank ON tank.id = feeding.tank_id
    LEFT JOIN account ON account.id = feeding.account_id
    LEFT JOIN switched_off AS off ON off.feeding_id = feeding.id
   WHERE feeding.voided_at IS NULL`;

/** What these systems were fed within a time. One query. */
export async function fedBetween(
  pool: pg.Pool,
  systemIds: readonly string[],
  from: Date,
  to: Date,
): Promise<Fed[]> {
  const query = `${fedColumns} AND feeding.system_id = ANY($1) AND feeding.at >= $2 AND feeding.at <= $3 ORDER BY feeding.at`;
  return (await pool.query<Fed>(query, [systemIds, from, to])).rows;
}

/** What the form for feeding one system offers: what was fed there before, the commonest first, and its tanks. */
export interface FeedingChoices {
  known: string[];
  /** What was fed on the last day before today that anything was, and not yet today. */
  before: {
    food: string;
    amountG: number | null;
    tankId: string | null;
    tank: string | null;
    pumpsOffMin: number | null;
    day: string;
  }[];
  tanks: { value: string; text: string }[];
}

const choiceQuery = `
  SELECT system.id AS "systemId",
         coalesce((SELECT json_agg(food ORDER BY times DESC, food)
                     FROM (SELECT food, count(*) AS times FROM feeding
                            WHERE system_id = system.id AND voided_at IS NULL
                            GROUP BY food ORDER BY times DESC LIMIT 12) AS fed), '[]') AS known,
         coalesce((SELECT json_agg(json_build_object('value', id, 'text', name) ORDER BY position, name)
                     FROM tank WHERE system_id = system.id), '[]') AS tanks,
         coalesce((SELECT json_agg(json_build_object('food', food, 'amountG', amount_g, 'tankId', tank_id, 'tank', tank, 'pumpsOffMin', pumps_off_min, 'day', day) ORDER BY at)
                     FROM (SELECT DISTINCT ON (lower(feeding.food), feeding.tank_id) feeding.food, feeding.amount_g, feeding.tank_id, tank.name AS tank,
                                  feeding.pumps_off_min, feeding.at, (feeding.at AT TIME ZONE $3)::date::text AS day
                             FROM feeding LEFT JOIN tank ON tank.id = feeding.tank_id
                            WHERE feeding.system_id = system.id AND feeding.voided_at IS NULL AND feeding.at <= $2
                              AND (feeding.at AT TIME ZONE $3)::date = (
                                SELECT max((at AT TIME ZONE $3)::date) FROM feeding AS earlier
                                 WHERE earlier.system_id = system.id AND earlier.voided_at IS NULL AND earlier.at > $2::timestamptz - interval '8 days'
                                   AND (earlier.at AT TIME ZONE $3)::date < ($2::timestamptz AT TIME ZONE $3)::date)
                              AND NOT EXISTS (SELECT 1 FROM feeding AS today
                                 WHERE today.system_id = system.id AND today.voided_at IS NULL AND today.at <= $2
                                   AND lower(today.food) = lower(feeding.food) AND today.tank_id IS NOT DISTINCT FROM feeding.tank_id
                                   AND (today.at AT TIME ZONE $3)::date = ($2::timestamptz AT TIME ZONE $3)::date)
                            ORDER BY lower(feeding.food), feeding.tank_id, feeding.at DESC) AS fed), '[]') AS before
    FROM system WHERE system.id = ANY($1)`;

/** Looks up what each system's feeding form offers. One query. */
export async function feedingChoices(
  pool: pg.Pool,
  systemIds: readonly string[],
  now: Date,
  timeZone: string,
): Promise<(systemId: string) => FeedingChoices> {
  const asked = [systemIds, now, timeZone];
  const { rows } = await pool.query<FeedingChoices & { systemId: string }>(choiceQuery, asked);
  const bySystem = new Map(rows.map((row) => [row.systemId, row]));
  return (systemId) => bySystem.get(systemId) ?? { known: [], before: [], tanks: [] };
}

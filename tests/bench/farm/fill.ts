import type { Pool, PoolClient } from 'pg';

/** How large a farm is made. */
export interface FarmSize {
  systems: number;
  /** In all; they stand evenly in the systems. */
  lots: number;
  /** Years of one test a day of each quantity. */
  years: number;
  /** Sites that the systems belong to, as many to each; 1 unless said. */
  sites?: number;
}

/** Levels and standard uncertainties (canonical units) of what is tested daily. */
const tested = [
  { code: 'alkalinity', level: 2.93, u: 0.07 },
  { code: 'calcium', level: 425, u: 8 },
  { code: 'magnesium', level: 1320, u: 20 },
  { code: 'nitrate', level: 8, u: 0.8 },
  { code: 'phosphate', level: 0.06, u: 0.01 },
  { code: 'salinity', level: 35, u: 0.3 },
  { code: 'temperature', level: 25.5, u: 0.1 },
];

/** Systems of one site that share one set of kits, and how long a kit lasts, days. */
const bench = 10;
const kitDays = 90;
const [tanks, racks, rows, columns] = [3, 2, 6, 10];

/**
 * Fills a database that holds the care library with a farm of the size asked for: set-based statements, triggers and
 * foreign keys aside (what they would write is written here), exclusion constraints and checks held.
 */
export async function fillFarm(
  pool: Pool,
  { systems, lots, years, sites = 1 }: FarmSize,
  now: Date,
): Promise<void> {
  const perSystem = Math.ceil(lots / systems);
  if (perSystem > tanks * racks * rows * columns) throw new Error('more lots than slots');
  if (systems % sites !== 0) throw new Error('sites have as many systems each');
  const perSite = systems / sites;
  const client = await pool.connect();
  try {
    await client.query('BEGIN');
    await client.query('SET LOCAL session_replication_role = replica');
    await client.query(key);
    await client.query('SELECT setseed(0.25)');
    await fillGround(client, { systems, perSite }, now);
    await fillLight(client, now);
    await fillLots(client, { lots, perSystem, perSite }, now);
    await fillWater(client, { years, shared: Math.min(bench, perSite) }, now);
    await client.query('SELECT hold_all_readings()');
    await client.query('COMMIT');
    await client.query('VACUUM ANALYZE');
  } finally {
    client.release();
  }
}

/** Keys in order of their numbers, as the application's own are in order of time. */
const key = `
  CREATE FUNCTION pg_temp.key(what int, n bigint) RETURNS uuid LANGUAGE sql IMMUTABLE AS
    $$ SELECT (lpad(to_hex(what), 8, '0') || '-0000-7000-8000-' || lpad(to_hex(n), 12, '0'))::uuid $$`;

const [site, system, tank, lamp, rack, slot, survey, lot, placement, condition, kit, reading, log] = [
  1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13,
] as const;

async function fillGround(
  client: PoolClient,
  { systems, perSite }: { systems: number; perSite: number },
  now: Date,
): Promise<void> {
  await client.query(
    `INSERT INTO site (id, name, time_zone)
     SELECT pg_temp.key(${site}, n), CASE WHEN n = 1 THEN 'Bench' ELSE 'Bench ' || n END, 'Europe/Lisbon' FROM generate_series(1, $1::int) AS n`,
    [systems / perSite],
  );
  await client.query(
    `INSERT INTO system (id, site_id, name, volume_l, created_at)
     SELECT pg_temp.key(${system}, n), pg_temp.key(${site}, 1 + (n - 1) / ${perSite}), 'System ' || n, 2000, $2::timestamptz - interval '4 years'
       FROM generate_series(1, $1::int) AS n`,
    [systems, now],
  );
  await client.query(`INSERT INTO system_quantity (system_id, quantity_code, band_low, band_high, make_up)
    SELECT system.id, code, low, high, 0 FROM system, (VALUES ('alkalinity', 2.7, 3.2), ('calcium', 400, 450), ('magnesium', 1250, 1400),
      ('nitrate', 2, 15), ('phosphate', 0.02, 0.1), ('salinity', 34, 36), ('temperature', 24, 27)) AS band(code, low, high)`);
  await client.query(
    `INSERT INTO tank (id, system_id, name, length_mm, width_mm, height_mm)
     SELECT pg_temp.key(${tank}, (s - 1) * ${tanks} + t), pg_temp.key(${system}, s), 'Tank ' || t, 2400, 900, 400
       FROM generate_series(1, $1::int) AS s, generate_series(1, ${tanks}) AS t`,
    [systems],
  );
  await client.query(`INSERT INTO lamp (id, tank_id, name, lit_hours, ramp_hours)
    SELECT pg_temp.key(${lamp}, n), pg_temp.key(${tank}, n), 'Lamps', 10, 1 FROM generate_series(1, (SELECT count(*) FROM tank)) AS n`);
  await client.query(
    `INSERT INTO lamp_setting (id, lamp_id, at, percent)
     SELECT gen_random_uuid(), lamp.id, $1::timestamptz - n * interval '150 days' - interval '30 days', 70 - n FROM lamp, generate_series(0, 4) AS n`,
    [now],
  );
  await client.query(`INSERT INTO rack (id, tank_id, lamp_id, name, rows, columns, depth_mm)
    SELECT pg_temp.key(${rack}, (t - 1) * ${racks} + r), pg_temp.key(${tank}, t), pg_temp.key(${lamp}, t), 'Rack ' || r, ${rows}, ${columns}, 150
      FROM generate_series(1, (SELECT count(*) FROM tank)) AS t, generate_series(1, ${racks}) AS r`);
  await client.query(`INSERT INTO slot (id, rack_id, row, "column")
    SELECT pg_temp.key(${slot}, ((k - 1) * ${rows} + r - 1) * ${columns} + c), pg_temp.key(${rack}, k), r, c
      FROM generate_series(1, (SELECT count(*) FROM rack)) AS k, generate_series(1, ${rows}) AS r, generate_series(1, ${columns}) AS c`);
}

/** A survey of every rack each half year. */
async function fillLight(client: PoolClient, now: Date): Promise<void> {
  await client.query(
    `INSERT INTO light_survey (id, rack_id, measured_at, meter, immersion_factor, lamp_percent)
     SELECT pg_temp.key(${survey}, (k - 1) * 6 + n), pg_temp.key(${rack}, k), $1::timestamptz - n * interval '170 days', 'meter', 1.3, 70
       FROM generate_series(1, (SELECT count(*) FROM rack)) AS k, generate_series(1, 6) AS n`,
    [now],
  );
  await client.query(`INSERT INTO slot_light (survey_id, slot_id, par, error, measured)
    SELECT light_survey.id, slot.id, 120 + 4 * slot."column" + 5 * random(), 6, true
      FROM light_survey JOIN slot ON slot.rack_id = light_survey.rack_id`);
}

/** Each lot stood in one slot until a year ago and stands in the next since; it was looked at three times. */
async function fillLots(
  client: PoolClient,
  { lots, perSystem, perSite }: { lots: number; perSystem: number; perSite: number },
  now: Date,
): Promise<void> {
  const slots = tanks * racks * rows * columns;
  const slotOf = (shift: number) =>
    `pg_temp.key(${slot}, ((n - 1) / ${perSystem}) * ${slots} + 1 + ((n - 1) % ${perSystem} + ${shift}) % ${slots})`;
  await client.query(
    `INSERT INTO lot (id, code, site_id, kind_id, arrived_at, pieces, parent_id)
     SELECT pg_temp.key(${lot}, n), 'B' || n, pg_temp.key(${site}, 1 + (n - 1) / ${perSystem * perSite}), kinds[1 + n % array_length(kinds, 1)], $2::timestamptz - interval '2 years', 4,
            CASE WHEN n % 5 = 0 THEN pg_temp.key(${lot}, n - 1) END
       FROM generate_series(1, $1::int) AS n, (SELECT array_agg(id ORDER BY code) AS kinds FROM kind) AS known`,
    [lots, now],
  );
  await client.query(
    `INSERT INTO ledger_entry (id, lot_id, at, change, reason) SELECT gen_random_uuid(), id, arrived_at, 4, 'received' FROM lot`,
  );
  const [then, moved] = [`$2::timestamptz - interval '2 years'`, `$2::timestamptz - interval '1 year'`];
  for (const [n, from, to] of [
    [0, then, moved],
    [1, moved, 'NULL'],
  ] as const) {
    await client.query(
      `INSERT INTO placement (id, lot_id, from_at, to_at)
       SELECT pg_temp.key(${placement}, 2 * n + ${n}), pg_temp.key(${lot}, n), ${from}, ${to} FROM generate_series(1, $1::int) AS n`,
      n === 0 ? [lots, now] : [lots, now],
    );
    await client.query(
      `INSERT INTO placement_slot (placement_id, slot_id, from_at, to_at)
       SELECT pg_temp.key(${placement}, 2 * n + ${n}), ${slotOf(n)}, ${from}, ${to} FROM generate_series(1, $1::int) AS n`,
      [lots, now],
    );
  }
  await client.query(
    `INSERT INTO condition (id, lot_id, at, state, grade)
     SELECT pg_temp.key(${condition}, 3 * n + i), pg_temp.key(${lot}, n), $2::timestamptz - (2 - i) * interval '100 days' - interval '1 day',
            CASE WHEN n % 500 = 0 AND i = 2 THEN 'paling' ELSE 'well' END::"ConditionState", CASE WHEN n % 500 = 0 AND i = 2 THEN 1 END
       FROM generate_series(1, $1::int) AS n, generate_series(0, 2) AS i`,
    [lots, now],
  );
}

async function fillWater(
  client: PoolClient,
  { years, shared }: { years: number; shared: number },
  now: Date,
): Promise<void> {
  const days = Math.round(365 * years);
  await client.query(
    `INSERT INTO kit (id, method_id, label, opened_at, expires_on, uses, retired_at)
     SELECT pg_temp.key(${kit}, ((b * 100 + period) * 10 + q.n)), method.id, q.code || ' ' || b || '-' || period,
            $2::timestamptz - (period + 1) * interval '${kitDays} days', ($2::timestamptz + interval '1 year')::date, 1000,
            CASE WHEN period > 0 THEN $2::timestamptz - period * interval '${kitDays} days' END
       FROM generate_series(0, (SELECT count(*) - 1 FROM system)::int / ${shared}) AS b, generate_series(0, $1::int / ${kitDays}) AS period,
            unnest($3::text[]) WITH ORDINALITY AS q(code, n)
       JOIN method ON method.quantity_code = q.code AND method.is_default`,
    [days, now, tested.map(({ code }) => code)],
  );
  await client.query(
    `INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, uncertainty, entered_text, entered_unit, created_at)
     SELECT pg_temp.key(${reading}, ((($1::int - day) * 1000::bigint + s) * 10 + q.n)), pg_temp.key(${system}, s), q.code, method.id,
            pg_temp.key(${kit}, ((((s - 1) / ${shared}) * 100 + day / ${kitDays}) * 10 + q.n)), made.at,
            q.level * (1 + 0.01 * sin(day / 40.0 + s)) + q.u * (random() + random() + random() + random() - 2) * 1.7, q.u, '', '', made.at
       FROM generate_series(1, (SELECT count(*) FROM system)) AS s, generate_series($1::int - 1, 0, -1) AS day,
            unnest($3::text[], $4::float[], $5::float[]) WITH ORDINALITY AS q(code, level, u, n)
       JOIN method ON method.quantity_code = q.code AND method.is_default,
            LATERAL (SELECT $2::timestamptz - day * interval '1 day' - (s % 60) * interval '1 minute' AS at) AS made`,
    [days, now, tested.map(({ code }) => code), tested.map(({ level }) => level), tested.map(({ u }) => u)],
  );
  await client.query(
    `INSERT INTO water_change (id, system_id, at, volume_l)
     SELECT pg_temp.key(${log}, s * 100000 + day), pg_temp.key(${system}, s), $2::timestamptz - day * interval '1 day' - interval '2 hours', 200
       FROM generate_series(1, (SELECT count(*) FROM system)) AS s, generate_series(0, $1::int, 7) AS day`,
    [days, now],
  );
  await client.query(
    `INSERT INTO dose (id, system_id, at, substance, amount, unit, quantity_code, effect)
     SELECT pg_temp.key(${log}, (s * 10 + q.n) * 100000 + day), pg_temp.key(${system}, s), $2::timestamptz - day * interval '1 day' - interval '3 hours',
            q.substance, 20, 'g', q.code, q.effect
       FROM generate_series(1, (SELECT count(*) FROM system)) AS s, generate_series(0, $1::int) AS day,
            (VALUES ('alkalinity', 'soda', 0.05, 1), ('calcium', 'calcium chloride', 1.0, 2)) AS q(code, substance, effect, n)`,
    [days, now],
  );
  await client.query(
    `INSERT INTO feeding (id, system_id, at, food, amount_g, pumps_off_min)
     SELECT pg_temp.key(${log}, (s * 10 + 3) * 100000 + day), pg_temp.key(${system}, s), $2::timestamptz - day * interval '1 day' - interval '4 hours',
            'mixed', 30, 20
       FROM generate_series(1, (SELECT count(*) FROM system)) AS s, generate_series(0, $1::int) AS day`,
    [days, now],
  );
  await client.query(
    `INSERT INTO switched_off (id, system_id, feeding_id, thing, what, why, off_at, due_at, late_at, seen_running_at)
     SELECT gen_random_uuid(), system_id, id, 'all_flow', 'Pumps', 'Feeding', at, at + interval '20 minutes', at + interval '25 minutes', at + interval '20 minutes'
       FROM feeding WHERE pumps_off_min IS NOT NULL`,
  );
}

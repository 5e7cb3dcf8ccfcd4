import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// Lists of what has ended grow as long as the farm lives. Sixty of each are here: three pages of 25, and two of the kits in use.

const ended = 60;
let bench: Bench;
let hand: Visitor;
let systemId: string;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  systemId = await makeSystem(bench, 'First');
  hand = await bench.as('hand');
  await fill();
});
afterAll(() => bench.close());

/** What a plan of a correction keeps of how it was worked out. */
const basis = JSON.stringify({
  means: 'calcium salt',
  purity: 1,
  solution: null,
  limewater: null,
  makeUp: null,
  fromAt: '2025-01-01T08:00:00Z',
  fromU: 5,
  relativeU: 0.02,
  drift: null,
  usualPerDay: 20,
  changes: [],
  afterU: [],
});
const each = `generate_series(1, ${ended}) AS n`;
const made = `'2025-01-01'::timestamptz + n * interval '1 day'`;

/** Rows that no other table is asked about: how they came to be is tested beside each operation. */
async function fill() {
  const client = await bench.service.pool.connect();
  try {
    await client.query('BEGIN');
    await client.query('SET LOCAL session_replication_role = replica');
    await client.query(
      `INSERT INTO move_plan (id, site_id, name, created_at, ended_at, end_reason)
       SELECT gen_random_uuid(), site.id, 'Plan ' || n, ${made}, ${made} + interval '1 hour', 'done' FROM site, ${each}`,
    );
    await client.query(
      `INSERT INTO acclimation (id, site_id, name, purpose, received, from_dli, target_dli, max_step_ratio, dwell_days, starts_on, created_at, ended_at, end_reason)
       SELECT gen_random_uuid(), site.id, 'Ramp ' || n, 'brighter', 'here', 5, 10, 1.2, 4, '2025-01-01', ${made}, ${made} + interval '1 hour', 'done' FROM site, ${each}`,
    );
    await client.query(
      `INSERT INTO correction (id, system_id, quantity_code, substance, basis, reading_id, from_value, target_value, daily_cap, cap_source, volume_l, starts_on, created_at, stopped_at, stop_reason)
       SELECT gen_random_uuid(), $1, 'calcium', 'calcium salt', $2, gen_random_uuid(), 400, 400 + n, 20, '', 500, '2025-01-01', ${made}, ${made} + interval '1 hour', 'done' FROM ${each}`,
      [systemId, basis],
    );
    await client.query(
      `INSERT INTO kit (id, method_id, label, opened_at, retired_at)
       SELECT gen_random_uuid(), method.id, CASE WHEN old THEN 'Old bottle ' ELSE 'Bottle ' END || n, ${made}, CASE WHEN old THEN ${made} + interval '1 hour' END
         FROM (SELECT id FROM method WHERE quantity_code = 'calcium' LIMIT 1) AS method, (VALUES (true), (false)) AS kinds(old), ${each}`,
    );
    await client.query('COMMIT');
  } finally {
    client.release();
  }
}

/** The addresses of things that a page links to. */
const linked = (body: string, kind: RegExp): string[] => [
  ...new Set([...body.matchAll(kind)].map(([, href]) => href ?? '')),
];

/** What each page of a list links to, followed by its button for the next. */
async function walk(first: string, kind: RegExp, next: RegExp): Promise<string[][]> {
  const pages: string[][] = [];
  for (let href: string | undefined = first; href !== undefined; ) {
    const { status, body } = await hand.get(href);
    expect(status, href).toBe(200);
    pages.push(linked(body, kind));
    const [, found] = next.exec(body) ?? [];
    href = found?.replaceAll('&amp;', '&').replaceAll('&#x3D;', '=').replace(/#.*$/, '');
    expect(pages.length, first).toBeLessThan(10);
  }
  return pages;
}

const nextOf = (list: string) => new RegExp(`href="([^"]*${list}[^"]*)" rel="next"`);

describe('a long list of what has ended shows 25 a page, each once, the newest first', () => {
  const lists = [
    { name: 'plans of moves', at: () => '/moves', kind: /href="(\/moves\/[0-9a-f-]{36})"/g },
    {
      name: 'acclimations',
      at: () => '/stock/acclimations',
      kind: /href="(\/stock\/acclimations\/[0-9a-f-]{36})"/g,
    },
    {
      name: 'corrections',
      at: () => `/water/systems/${systemId}/corrections`,
      kind: /href="(\/water\/corrections\/[0-9a-f-]{36})"/g,
    },
  ];
  test.each(lists)('$name', async ({ at, kind }) => {
    const pages = await walk(at(), kind, nextOf(at()));
    expect(pages.map(({ length }) => length)).toEqual([25, 25, 10]);
    expect(new Set(pages.flat()).size).toBe(ended);
    const beyond = linked((await hand.get(`${at()}?page=99`)).body, kind);
    expect(beyond).toEqual(pages[2]);
    const none = linked((await hand.get(`${at()}?page=none`)).body, kind);
    expect(none).toEqual(pages[0]);
  });

  test('the newest plan stands first, the oldest last', async () => {
    expect((await hand.get('/moves')).body).toContain('>Plan 60<');
    expect((await hand.get('/moves?page=3')).body).toContain('>Plan 1<');
  });
});

describe('kits', () => {
  const kind = /href="(\/water\/kits\/[0-9a-f-]{36})"/g;
  /** Those in use stand before the form, those put away behind it. */
  const inUse = (body: string) => linked(body.split('<h2>Open a kit</h2>')[0] ?? '', kind);
  const putAway = (body: string) => linked(body.split('id="out-of-use"')[1] ?? '', kind);

  test('in use show 50 a page and those put away 25, each page of one beside any of the other', async () => {
    const one = (await hand.get('/water/kits')).body;
    const two = (await hand.get('/water/kits?page=2&put=3')).body;
    const between = (await hand.get('/water/kits?page=2&put=2')).body;
    expect([inUse(one).length, putAway(one).length]).toEqual([50, 25]);
    expect([inUse(two).length, putAway(two).length]).toEqual([10, 10]);
    expect(new Set([...inUse(one), ...inUse(two)]).size).toBe(ended);
    expect(new Set([...putAway(one), ...putAway(between), ...putAway(two)]).size).toBe(ended);
    expect(two).toContain('href="/water/kits?page&#x3D;1&amp;put&#x3D;3"');
  });

  test('say how many are put away, not how many the page shows, and open them where a later page is asked', async () => {
    const one = (await hand.get('/water/kits')).body;
    expect(one).toContain('<details><summary>60 kits out of use</summary>');
    expect((await hand.get('/water/kits?put=2')).body).toContain(
      '<details open><summary>60 kits out of use</summary>',
    );
  });
});

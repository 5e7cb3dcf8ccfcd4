import { parse } from 'csv-parse/sync';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { listGroups } from '../../src/exports/lists/lists.ts';
import { bring } from '../intake/files.ts';
import { demoDatabase } from '../support/demo-bench.ts';
import { type Bench, benchOn, type Visitor } from '../support/service.ts';

let bench: Bench;
let owner: Visitor;

beforeAll(async () => {
  bench = await benchOn(await demoDatabase(), { care: false, watching: false });
  owner = await bench.as('owner', 'Ines Varga');
  await bench.service.pool.query("UPDATE site SET currency = 'EUR'");
  await bench.service.pool.query(
    `UPDATE lot SET own_code = '=1+1', note = '@note, with a "quote"', price_minor = 1250
      WHERE id = (SELECT min(id::text)::uuid FROM lot WHERE pieces > 0)`,
  );
});
afterAll(() => bench.close());

const lists = listGroups.flatMap(({ lists: some }) => some);
type Rows = Record<string, string>[];
const rowsOf = async (slug: string, who = owner): Promise<Rows> =>
  parse((await who.get(`/export/${slug}.csv`)).body, { columns: true }) as Rows;

async function bringLog(kind: string, content: string): Promise<string | undefined> {
  const form = new FormData();
  form.set('kind', kind);
  form.set('pasted', '');
  form.set('file', new Blob([content], { type: 'text/csv' }), `${kind}.csv`);
  return (await owner.send('/water/log-files', form, { accept: 'text/html' })).location;
}

/** How many rows a table has, by another way than the one under test. */
async function count(sql: string): Promise<number> {
  const { rows } = await bench.service.pool.query<{ n: number }>(`SELECT (${sql})::int AS n`);
  return rows[0]?.n ?? -1;
}

describe('the lists as CSV', () => {
  test('stand on one page, and each goes out with a head, times with their offset, and the site or system', async () => {
    const { body } = await owner.get('/export');
    for (const { slug } of lists) {
      expect(body).toContain(`href="/export/${slug}.csv"`);
      const answer = await owner.get(`/export/${slug}.csv`);
      expect(answer.status, slug).toBe(200);
      expect(answer.headers['content-type'], slug).toBe('text/csv; charset=utf-8');
      const [head = [], ...rows] = parse(answer.body) as string[][];
      const wholeFarms = ['kinds', 'kits', 'checks', 'off-times', 'people'];
      if (!wholeFarms.includes(slug))
        expect(
          head.some((name) => name === 'site' || name === 'system'),
          slug,
        ).toBe(true);
      const times = rows.flat().filter((cell) => /^\d{4}-\d\d-\d\dT/.test(cell));
      expect(
        times.filter((cell) => !/[+-]\d\d:\d\d$/.test(cell)),
        slug,
      ).toEqual([]);
    }
    expect((await owner.get('/export/nothing.csv')).status).toBe(404);
  });

  test('leave out no row', async () => {
    const expected = {
      stock: 'SELECT count(*) FROM lot WHERE pieces > 0',
      gone: 'SELECT count(*) FROM lot WHERE pieces = 0',
      ready: 'SELECT count(*) FROM lot WHERE pieces > 0',
      racks: 'SELECT count(*) FROM rack',
      slots:
        'SELECT count(*) FROM slot JOIN rack ON rack.id = rack_id WHERE slot.row <= rows AND "column" <= columns',
      counts: 'SELECT count(*) FROM ledger_entry',
      placements: 'SELECT count(*) FROM placement',
      conditions: 'SELECT count(*) FROM condition',
      readings: 'SELECT count(*) FROM reading',
      doses: 'SELECT count(*) FROM dose',
      'water-changes': 'SELECT count(*) FROM water_change',
      feedings: 'SELECT count(*) FROM feeding',
      targets: 'SELECT count(*) FROM system_quantity',
      kits: 'SELECT count(*) FROM kit',
      routines: 'SELECT count(*) FROM routine',
      services: 'SELECT count(*) FROM upkeep',
      'switched-off': 'SELECT count(*) FROM switched_off',
      rounds: 'SELECT count(*) FROM round_entry',
      people: 'SELECT count(*) FROM account',
    };
    for (const [slug, sql] of Object.entries(expected))
      expect((await rowsOf(slug)).length, slug).toBe(await count(sql));
  });

  test('hold the numbers that the pages show', async () => {
    const ready = await rowsOf('ready');
    const free = ready
      .filter(({ ready: is }) => is === 'yes')
      .reduce((sum, row) => sum + Number(row.free), 0);
    const page = (await owner.get('/stock/ready')).body.replace(/<[^>]+>/g, '');
    expect(page).toMatch(new RegExp(`${ready.filter(({ ready: is }) => is === 'yes').length} lots ready`));
    expect(page).toContain(`${free.toLocaleString('en-GB')} pieces free`);

    const [rack] = (await rowsOf('racks')).filter(({ lots }) => Number(lots) > 1);
    const { id } = await bench.service.db.rack.findFirstOrThrow({ where: { name: rack?.rack ?? '' } });
    const { slots } = (await owner.get(`/api/racks/${id}`)).json() as {
      slots: { name: string; light: { par: number } | null }[];
    };
    const written = (await rowsOf('slots')).filter((row) => row.rack === rack?.rack);
    expect(written.length).toBe(slots.length);
    for (const { name, light } of slots)
      expect(
        Number(written.find(({ slot }) => slot === name)?.['light at full (umol/(m2 s))']),
        name,
      ).toBeCloseTo(light?.par ?? 0, 2);

    const [system] = await rowsOf('systems');
    const farm = (await owner.get('/farm')).body.replace(/<[^>]+>/g, '');
    expect(farm).toContain(`${Number(system?.['volume (L)']).toLocaleString('en-GB')} L`);
    const [tank] = await rowsOf('tanks');
    expect(farm).toContain(
      `${tank?.['length (cm)']} × ${tank?.['width (cm)']} × ${tank?.['height (cm)']} cm`,
    );
    const target = (await rowsOf('targets')).find(({ quantity }) => quantity === 'alkalinity');
    const { id: systemId } = await bench.service.db.system.findFirstOrThrow({
      where: { name: target?.system ?? '' },
    });
    const targets = (await owner.get(`/water/systems/${systemId}/targets`)).body;
    expect(target?.['farm unit']).toBe('dKH');
    const typed = Number(/id="alkalinity-high"[^>]* value="([^"]*)"/.exec(targets)?.[1]);
    expect(Number(target?.['band to (farm unit)'])).toBeCloseTo(typed, 6);
  });

  test('have units of the site beside the canonical ones', async () => {
    await bench.service.pool.query("UPDATE site SET volume_unit = 'gal (US)', length_unit = 'in'");
    const [system] = await rowsOf('systems');
    // 1 US gallon is 231 cubic inches of 25.4 mm: 3.785411784 L (NIST Special Publication 811, B.8).
    expect(Number(system?.['volume (gal (US))'])).toBeCloseTo(
      Number(system?.['volume (L)']) / 3.785411784,
      6,
    );
    const [tank] = await rowsOf('tanks');
    expect(Number(tank?.['length (in)'])).toBeCloseTo(Number(tank?.['length (mm)']) / 25.4, 6);
    await bench.service.pool.query("UPDATE site SET volume_unit = 'L', length_unit = 'cm'");
  });

  test('keep a text from running as a formula', async () => {
    const { body } = await owner.get('/export/stock.csv');
    expect(body).toContain(",'=1+1,");
    expect(body).toContain(`"'@note, with a ""quote"""`);
  });

  test('are told to whom they may be told', async () => {
    const reader = await bench.as('reader', 'Vet');
    expect((await reader.get('/export/stock.csv')).status).toBe(200);
    for (const slug of ['people', 'sales', 'round-plans'])
      expect((await reader.get(`/export/${slug}.csv`)).status, slug).toBe(403);
    expect((await reader.get('/export/farm.zip')).status).toBe(403);
    const { body } = await reader.get('/export');
    expect(body).toContain('href="/export/stock.csv"');
    expect(body).not.toContain('people.csv');
    expect(body).not.toContain('farm.zip');
  });
});

describe('a list that a reader of files takes', () => {
  const takers = [
    ['stock', '/stock/imports'],
    ['readings', '/water/imports'],
    ['doses', '/water/log-files?kind=doses'],
    ['water-changes', '/water/log-files?kind=water_changes'],
    ['feedings', '/water/log-files?kind=feedings'],
    ['services', '/water/log-files?kind=upkeep'],
  ] as const;
  test.each(takers)('%s comes back in changing nothing', async (slug, path) => {
    const { body } = await owner.get(`/export/${slug}.csv`);
    const [to = '', kind] = path.split('?kind=');
    const location =
      kind === undefined
        ? (await bring(owner, `${slug}.csv`, body, to)).location
        : await bringLog(kind, body);
    const preview = await owner.get(location ?? '');
    const said = preview.body.replace(/<[^>]+>/g, ' ').replace(/\s+/g, ' ');
    const rows = (parse(body) as string[][]).length - 1;
    expect(rows).toBeGreaterThan(10);
    expect(said).toMatch(/ 0 [a-z ]+ would be taken/);
    expect(said).toContain(
      `${rows.toLocaleString('en-GB')} ${slug === 'readings' ? 'are' : 'rows are'} here already`,
    );
  });
});

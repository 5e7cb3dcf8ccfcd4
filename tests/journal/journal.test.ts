import { parse } from 'csv-parse/sync';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kindWords } from '../../src/journal/kind-words.ts';
import { subjects } from '../../src/journal/subjects.ts';
import { journalKinds } from '../../src/platform/journal-kinds.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { fieldsOf } from '../support/forms.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let hall: Hall;
let owner: Visitor;
let hand: Visitor;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  owner = await bench.as('owner', 'Ines Varga');
  hand = await bench.as('hand', 'Tomas Brandt');
});

afterAll(() => bench.close());

/** The rows of the journal's page, as text without tags. */
const rowsOf = (body: string) =>
  (/<tbody>([\s\S]*)<\/tbody>/.exec(body)?.[1] ?? '')
    .split('</tr>')
    .map((row) =>
      row
        .replace(/<[^>]*>/g, ' ')
        .replace(/\s+/g, ' ')
        .trim(),
    )
    .filter((row) => row !== '');

describe('the words', () => {
  test('every kind of line has its own', () => {
    expect(Object.keys(kindWords).sort()).toEqual(Object.keys(journalKinds).sort());
    for (const [kind, words] of Object.entries(kindWords)) {
      expect(words, kind).toMatch(/^[A-Z][A-Za-z ,-]{5,60}$/);
      expect(words, kind).not.toContain('_');
    }
    expect(new Set(Object.values(kindWords)).size).toBe(Object.keys(kindWords).length);
  });

  test('every noun has a name, and the database can say all of them', async () => {
    const nouns = new Set(Object.values(journalKinds).flat());
    expect(Object.keys(subjects).sort()).toEqual([...nouns].sort());
    expect((await owner.get('/journal')).status).toBe(200);
  });
});

describe('somebody asks who changed what', () => {
  test('a change of a tank shows what it was before and after, by whom', async () => {
    const url = `/farm/tanks/${hall.tankId}`;
    const fields = fieldsOf((await owner.get(url)).body, url);
    const saved = await owner.post(url, { ...fields, name: 'Long tank', note: 'By the window' });
    expect(saved.status).toBe(303);
    const [row] = rowsOf((await owner.get(`/journal?subject=${hall.tankId}`)).body);
    expect(row).toContain('Ines Varga');
    expect(row).toContain('Tank changed');
    expect(row).toMatch(/name: Tank 1 .*Long tank/);
    expect(row).not.toContain('version');
    const holdUntil = { before: { quarantineUntil: null }, after: { quarantineUntil: '2026-12-04' } };
    await bench.change(async (work) =>
      work.record('lot.changed', { type: 'lot', id: hall.lots.A1.id }, holdUntil),
    );
    const [day] = rowsOf((await owner.get(`/journal?subject=${hall.lots.A1.id}`)).body);
    expect(day, 'a day as people read it').toContain('4 Dec 2026');
    // What stayed the same is not told.
    expect(row).not.toContain('length');
  });

  test('each person is asked for alone, and the service itself', async () => {
    await hand.post(`/lots/${hall.lots.A1.id}/conditions`, {
      ...fieldsOf(
        (await hand.get(`/stock/${hall.lots.A1.code}/condition`)).body,
        `/lots/${hall.lots.A1.id}/conditions`,
      ),
      state: 'well',
    });
    const his = rowsOf((await owner.get(`/journal?by=${hand.id}`)).body);
    expect(his.length).toBeGreaterThan(1);
    expect(his.every((row) => row.includes('Tomas Brandt'))).toBe(true);
    expect(his.join()).toContain(hall.lots.A1.code);
    const itself = rowsOf((await owner.get('/journal?by=itself')).body);
    expect(itself.every((row) => row.includes('Evenwater itself'))).toBe(true);
  });

  test('a lot is found by its code, and its page leads to its lines', async () => {
    const rows = rowsOf((await owner.get(`/journal?named=${hall.lots.A1.code}`)).body);
    expect(rows.length).toBeGreaterThan(0);
    expect(rows.every((row) => row.includes(hall.lots.A1.code))).toBe(true);
    expect((await owner.get(`/stock/${hall.lots.A1.code}`)).body).toContain(
      `/journal?subject=${hall.lots.A1.id}`,
    );
    expect((await hand.get(`/stock/${hall.lots.A1.code}`)).body).not.toContain('/journal');
  });

  test('a percent sign in a name is a sign, not a wildcard', async () => {
    expect(rowsOf((await owner.get('/journal?named=%25')).body)).toEqual([]);
  });

  test('by day, in the time of the site', async () => {
    expect(rowsOf((await owner.get('/journal?from=2026-11-24&to=2026-11-24')).body).length).toBeGreaterThan(
      0,
    );
    expect(rowsOf((await owner.get('/journal?to=2026-11-23')).body)).toEqual([]);
  });

  test('filters that make no sense filter nothing, and break nothing', async () => {
    const odd = '/journal?by=x&about=nothing&subject=1&from=99&to=2026-13-40&before=9-9';
    for (const days of ['from=0000-01-01', 'to=9999-12-31'])
      expect((await owner.get(`/journal?${days}`)).status).toBe(200);
    const noCursor = `9999999999999999-${'-'.repeat(36)}`;
    expect((await owner.get(`/journal?before=${noCursor}`)).status).toBe(200);
    expect((await owner.get(odd)).status).toBe(200);
    expect(rowsOf((await owner.get(odd)).body).length).toBeGreaterThan(0);
  });
});

describe('a long journal', () => {
  const lines = 137;

  beforeAll(async () => {
    for (let i = 0; i < lines; i++)
      await bench.change(
        async (work) =>
          work.record(
            'lot.changed',
            { type: 'lot', id: hall.lots.B1.id },
            { before: { note: `n${i}` }, after: { note: `n${i + 1}` } },
          ),
        owner.id,
      );
  });

  test('is read page by page: every line once, all of one moment too', async () => {
    const seen: string[] = [];
    let url: string | undefined = `/journal?subject=${hall.lots.B1.id}&by=${owner.id}`;
    let pages = 0;
    while (url !== undefined) {
      const { body } = await owner.get(url);
      seen.push(...rowsOf(body));
      pages += 1;
      url = /href="(\/journal\?[^"]*)" rel="next"/
        .exec(body)?.[1]
        ?.replaceAll('&amp;', '&')
        .replaceAll('&#x3D;', '=');
    }
    expect(pages).toBe(4);
    expect(seen.length).toBe(lines);
    expect(new Set(seen).size).toBe(lines);
  });

  test('goes out as CSV with the same filters', async () => {
    const answer = await owner.get(`/journal.csv?subject=${hall.lots.B1.id}&by=${owner.id}`);
    expect(answer.headers['content-type']).toContain('text/csv');
    const rows = parse(answer.body, { columns: true }) as Record<string, string>[];
    expect(rows.length).toBe(lines);
    expect(rows[0]).toMatchObject({
      by: 'Ines Varga',
      what: 'Lot changed',
      before: `note: n${lines - 1}`,
      after: `note: n${lines}`,
    });
    expect(rows[0]?.subject).toContain(hall.lots.B1.code);
  });
});

test('a hand reads neither the page nor the file', async () => {
  expect((await hand.get('/journal')).status).toBe(403);
  expect((await hand.get('/journal.csv')).status).toBe(403);
});

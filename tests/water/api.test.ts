import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

let bench: Bench;
let hand: Visitor;
let systemId: string;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  systemId = await makeSystem(bench, 'Long "run", one');
  hand = await bench.as('hand', 'Bea');
});
afterAll(() => bench.close());

const json = { accept: 'application/json' };

describe('readings as JSON', () => {
  test('are kept as on the page, once for one idempotency key', async () => {
    const body = {
      systemId,
      at: '2026-11-24T07:00:00Z',
      readings: [
        { quantityCode: 'alkalinity', text: '8,4', unit: 'dKH' },
        { quantityCode: 'calcium', text: 430 },
      ],
    };
    const key = { 'idempotency-key': randomUUID() };
    const [first, second] = await Promise.all([
      hand.send('/api/readings', body, key),
      hand.send('/api/readings', body, key),
    ]);
    expect([first.status, second.status]).toEqual([201, 201]);
    expect(first.json()).toEqual(second.json());
    expect(first.json()).toMatchObject({
      readings: [
        { quantityCode: 'alkalinity', said: '8.4 dKH', trust: 'plain' },
        { quantityCode: 'calcium', said: '430 mg/L' },
      ],
    });
    expect(await bench.service.db.reading.count({ where: { systemId } })).toBe(2);
    const listed = (
      await hand.get(`/api/readings?systemId=${systemId}&quantityCode=alkalinity`, json)
    ).json();
    expect(listed).toMatchObject({
      readings: [{ quantityCode: 'alkalinity', enteredText: '8,4', method: 'drop titration', by: 'Bea' }],
    });
  });

  test('are all there, in the order of their times and each once, where they are more than one piece', async () => {
    const { pool } = bench.service;
    const many = await makeSystem(bench, 'Probe run');
    // Every second one has the time of the one before; every hundredth was taken back.
    const fill = `
      INSERT INTO reading (id, system_id, quantity_code, at, value, uncertainty, entered_text, entered_unit, note, voided_at, void_reason)
      SELECT gen_random_uuid(), $1, $2, '2026-11-20T00:00:00Z'::timestamptz + (n / 2) * interval '1 minute', 8, 0.1, '8', 'dKH', n || ' said “so”',
             CASE WHEN n % 100 = 0 THEN '2026-11-23'::timestamptz END, CASE WHEN n % 100 = 0 THEN 'bench' END
        FROM generate_series(1, $3::int) AS n`;
    await pool.query(fill, [many, 'alkalinity', 4_321]);
    await pool.query(fill, [many, 'calcium', 1_000]);
    interface Told {
      readings: { id: string; at: string; note: string; quantityCode: string; corrected: null }[];
      unit?: string;
    }
    const ask = async (path: string) => {
      const answer = await hand.get(path, json);
      expect(answer.status).toBe(200);
      expect(answer.headers['content-type']).toContain('application/json');
      return answer.json() as Told;
    };
    for (const [path, count] of [
      [`/api/readings?systemId=${many}`, 4_278 + 990],
      [`/api/readings?systemId=${many}&voided=yes`, 5_321],
      [`/api/systems/${many}/series?quantity=alkalinity`, 4_278],
      [`/api/systems/${many}/series?quantity=calcium`, 990],
    ] as const) {
      const { readings } = await ask(path);
      expect(readings.length, path).toBe(count);
      expect(new Set(readings.map(({ id }) => id)).size).toBe(count);
      const times = readings.map(({ at }) => at);
      expect(times).toEqual([...times].sort());
      expect(readings[7]?.note).toMatch(/^\d+ said “so”$/);
    }
    expect((await ask(`/api/systems/${many}/series?quantity=alkalinity`)).unit).toBe('meq/L');
  });

  test('are refused as problem details that name every field', async () => {
    const answer = await hand.send('/api/readings', {
      systemId,
      readings: [
        { quantityCode: 'alkalinity', text: '83' },
        { quantityCode: 'nitrate', text: 'x' },
      ],
    });
    expect(answer.status).toBe(422);
    expect(answer.headers['content-type']).toContain('application/problem+json');
    expect(answer.json()).toMatchObject({ errors: [{ field: 'alkalinity' }, { field: 'nitrate' }] });
    expect(
      (
        await hand.send('/api/readings', {
          systemId: randomUUID(),
          readings: [{ quantityCode: 'ph', text: '8' }],
        })
      ).status,
    ).toBe(404);
    expect((await hand.send('/api/readings', { systemId, readings: [] })).status).toBe(422);
    expect(
      (
        await hand.send('/api/readings', { systemId, readings: [{ quantityCode: 'vigour', text: '8' }] })
      ).json(),
    ).toMatchObject({ errors: [{ field: 'vigour' }] });
    const twice = [
      { quantityCode: 'ph', text: '8.1' },
      { quantityCode: 'ph', text: '8.2' },
    ];
    expect((await hand.send('/api/readings', { systemId, readings: twice })).status).toBe(422);
  });

  test('of one quantity come as a series with what the system keeps', async () => {
    const other = await makeSystem(bench, 'Series');
    await read(bench, other, '2026-11-20T08:00Z', 'nitrate', '7');
    await read(bench, other, '2026-11-22T08:00Z', 'nitrate', '8');
    const series = (
      await hand.get(`/api/systems/${other}/series?quantity=nitrate&from=2026-11-21T00:00:00Z`, json)
    ).json();
    expect(series).toMatchObject({
      quantityCode: 'nitrate',
      unit: 'mg/L',
      keeps: { bandLow: 2, bandHigh: 15, limitHigh: 30, makeUp: 0 },
      readings: [{ value: 8 }],
    });
    const unknown = await hand.get(`/api/systems/${other}/series?quantity=vigour`, json);
    expect(unknown.status).toBe(422);
    expect(unknown.json()).toMatchObject({
      detail: expect.stringContaining('Name the quantity: one of alkalinity'),
    });
  });
});

describe('the log as JSON', () => {
  test.each([
    ['water-changes', { amount: 10, unit: '%' }, { volumeL: 100 }],
    [
      'doses',
      { substance: 'Soda solution, 1 meq/mL', amount: 100, unit: 'mL' },
      { quantityCode: 'alkalinity', effect: 0.1 },
    ],
    ['feedings', { food: 'chopped shrimp', pumpsOffMin: 15 }, { food: 'chopped shrimp', pumpsOffMin: 15 }],
  ])('%s are entered and listed', async (path, body, entry) => {
    expect((await hand.send(`/api/${path}`, { systemId, ...body })).status).toBe(201);
    expect((await hand.get(`/api/${path}?systemId=${systemId}`, json)).json()).toMatchObject({
      entries: [entry],
    });
    expect((await hand.send(`/api/${path}`, { systemId })).status).toBe(422);
    expect((await hand.send(`/api/${path}`, body)).json()).toMatchObject({ errors: [{ field: 'systemId' }] });
  });
});

describe('readings as a file', () => {
  test('are RFC 4180: CRLF, quotes doubled, the farm’s units, nothing left out', async () => {
    const other = await makeSystem(bench, 'File');
    const reading = await read(bench, other, '2026-11-20T08:00Z', 'nitrate', '<1', {
      note: 'cloudy, "odd"\nsample',
    });
    await hand.post(`/water/readings/${reading.id}/voiding`, { reason: 'wrong tube' });
    await read(bench, other, '2026-07-20T08:00Z', 'nitrate', '7');
    const answer = await hand.get(`/water/systems/${other}/readings.csv?quantity=nitrate&days=365`);
    expect(answer.headers['content-type']).toBe('text/csv; charset=utf-8');
    expect(answer.headers['content-disposition']).toBe('attachment; filename="file-nitrate.csv"');
    const [head, first, second, end] = answer.body.split('\r\n');
    expect(head).toMatch(/^at,system,quantity,value,unit,below_detection,standard_uncertainty,/);
    // Lisbon keeps summer time in July.
    expect(first).toMatch(
      /^2026-07-20T09:00:00\+01:00,File,nitrate,7,mg\/L,no,0\.7,7,mg\/L,photometer,,[^,]*,plain,/,
    );
    expect(second).toContain('"cloudy, ""odd""\nsample"');
    expect(second).toMatch(
      /^2026-11-20T08:00:00\+00:00,File,nitrate,1,mg\/L,yes,.*wrong tube,,,,,,1,,[^,]+$/s,
    );
    expect(end).toBe('');
  });
});

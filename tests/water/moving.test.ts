import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { withoutMarks } from '../support/figures.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

let bench: Bench;
let hand: Visitor;
let right: string;
let wrong: string;
const at = '2026-11-24T07:00:00Z';

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hand = await bench.as('hand', 'Nela');
  right = await makeSystem(bench, 'North hall');
  wrong = await makeSystem(bench, 'South hall');
  for (const [system, level] of [
    [right, '9.9'],
    [wrong, '8.0'],
  ] as const)
    for (const day of ['20', '21', '22', '23'])
      await read(bench, system, `2026-11-${day}T07:00:00Z`, 'alkalinity', level);
});
afterAll(() => bench.close());

const textOf = (html: string) =>
  withoutMarks(html)
    .replace(/<[^>]+>/g, ' ')
    .replace(/\s+/g, ' ');
const row = (id: string) => bench.service.db.reading.findUniqueOrThrow({ where: { id } });
const inPlaceOf = (id: string) =>
  bench.service.db.reading.findFirst({ where: { supersedesId: id }, include: { account: true } });
const waiting = (systemId: string) =>
  bench.service.pool
    .query<{ n: number }>(
      `SELECT count(*)::int AS n FROM pgboss.job WHERE data->>'systemId' = $1 AND state = 'created'`,
      [systemId],
    )
    .then(({ rows }) => rows[0]?.n ?? 0);
const move = (id: string, form: Record<string, string>, key?: string) =>
  hand.post(`/water/readings/${id}/move`, { ...(key === undefined ? {} : { _key: key }), ...form });

describe('a reading that was entered for the wrong water', () => {
  test('is moved as it was read, and judged by what was read where it belongs', async () => {
    const slip = await read(bench, wrong, at, 'alkalinity', '9.9');
    expect(slip.trust).toBe('unconfirmed');
    const before = [await waiting(right), await waiting(wrong)];
    const sent = await move(slip.id, { systemId: right, moveReason: 'typed on the wrong page' });
    expect(sent.status, sent.body).toBe(303);
    const moved = await inPlaceOf(slip.id);
    expect(moved).toMatchObject({ systemId: right, enteredText: '9.9', trust: 'plain', voidedAt: null });
    expect(moved?.at.toISOString()).toBe(new Date(at).toISOString());
    expect(await row(slip.id)).toMatchObject({
      systemId: wrong,
      voidReason: 'Moved to North hall: typed on the wrong page',
    });
    const after = [await waiting(right), await waiting(wrong)];
    expect(after[0]).toBeGreaterThan(before[0] ?? 0);
    expect(after[1]).toBeGreaterThan(before[1] ?? 0);
    const old = textOf((await hand.get(`/water/readings/${slip.id}`)).body);
    expect(old).toMatch(
      /Moved to North hall: typed on the wrong page *, by Nela *The right one, in North hall/,
    );
    const now = textOf((await hand.get(`/water/readings/${moved?.id}`)).body);
    expect(now).toContain('9.9, entered for South hall');
    const line = await bench.service.db.journalLine.findFirst({ where: { kind: 'reading.moved' } });
    expect(line?.detail).toMatchObject({ from: 'South hall', system: 'North hall' });
  });

  test('is moved once, whether it is sent twice under one key or from two tablets', async () => {
    const slip = await read(bench, wrong, '2026-11-24T07:10:00Z', 'alkalinity', '9.9');
    const key = '0190a0b0-0000-7000-8000-00000000c0de';
    const form = { systemId: right, moveReason: 'wrong page' };
    const [one, two] = await Promise.all([move(slip.id, form, key), move(slip.id, form, key)]);
    expect([one?.status, two?.status]).toEqual([303, 303]);
    const other = await bench.as('hand', 'Tomas');
    const late = await other.post(`/water/readings/${slip.id}/move`, form);
    expect(late.status).toBe(409);
    expect(textOf(late.body)).toContain('The right one stands in North hall');
    expect(await bench.service.db.reading.count({ where: { supersedesId: slip.id } })).toBe(1);
  });

  test('two people that move it at once leave it in one water', async () => {
    const third = await makeSystem(bench, 'Third hall');
    const slip = await read(bench, wrong, '2026-11-24T07:20:00Z', 'alkalinity', '9.9');
    const other = await bench.as('hand', 'Ada');
    const sent = await Promise.all([
      move(slip.id, { systemId: right, moveReason: 'wrong page' }),
      other.post(`/water/readings/${slip.id}/move`, { systemId: third, moveReason: 'wrong page' }),
    ]);
    expect(sent.map(({ status }) => status).sort()).toEqual([303, 409]);
    expect(await bench.service.db.reading.count({ where: { supersedesId: slip.id } })).toBe(1);
  });

  test('that is implausible where it is moved to is asked about', async () => {
    const slip = await read(bench, wrong, '2026-11-24T07:30:00Z', 'alkalinity', '3.1');
    const form = { systemId: right, moveReason: 'wrong page' };
    const asked = await move(slip.id, form);
    expect(asked.status).toBe(422);
    expect(asked.body).toContain('name="moveSure"');
    expect((await row(slip.id)).voidedAt).toBeNull();
    expect((await move(slip.id, { ...form, moveSure: 'yes' })).status).toBe(303);
  });

  test('goes nowhere without a reason, to the water that it stands in, to a retired one, or if a device sent it', async () => {
    const slip = await read(bench, wrong, '2026-11-24T07:40:00Z', 'alkalinity', '8.0');
    expect((await move(slip.id, { systemId: right, moveReason: '' })).status).toBe(422);
    expect((await move(slip.id, { systemId: wrong, moveReason: 'x' })).status).toBe(422);
    const old = await makeSystem(bench, 'Old hall');
    await bench.service.db.system.update({ where: { id: old }, data: { retiredAt: new Date() } });
    expect((await move(slip.id, { systemId: old, moveReason: 'x' })).status).toBe(422);
    expect((await row(slip.id)).voidedAt).toBeNull();
  });

  test('by a program goes the same way', async () => {
    const slip = await read(bench, wrong, '2026-11-24T07:50:00Z', 'alkalinity', '9.9');
    const sent = await hand.send(`/api/readings/${slip.id}/move`, {
      systemId: right,
      reason: 'the sheet was mixed up',
    });
    expect(sent.status, sent.body).toBe(201);
    expect(JSON.parse(sent.body)).toMatchObject({
      from: 'South hall',
      to: 'North hall',
      reading: { trust: 'plain' },
    });
  });

  test('comes back by Undo, and counts in one water at every moment', async () => {
    const slip = await read(bench, wrong, '2026-11-24T08:00:00Z', 'alkalinity', '9.9');
    const sent = await move(slip.id, { systemId: right, moveReason: 'wrong page' });
    const page = (await hand.get(sent.location ?? '')).body;
    const undo = /action="(\/undo\/[^"]+)"/.exec(page)?.[1] ?? '';
    const token = /name="_csrf" value="([^"]+)"/.exec(page)?.[1] ?? '';
    const moved = await inPlaceOf(slip.id);
    await hand.post(undo, { _csrf: token });
    expect(await row(slip.id)).toMatchObject({ voidedAt: null, voidReason: null, systemId: wrong });
    expect((await row(moved?.id ?? '')).voidedAt).not.toBeNull();
    expect((await move(slip.id, { systemId: right, moveReason: 'it was right' })).status).toBe(303);
  });
});

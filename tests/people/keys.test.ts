import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

let bench: Bench;
let owner: Visitor;
let key: string;
let systemId: string;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  systemId = await makeSystem(bench);
  owner = await bench.as('owner');
  key = await makeKey('Controller, long run');
});
afterAll(() => bench.close());

async function makeKey(name: string): Promise<string> {
  const page = await owner.post('/people/keys', { name });
  return /<code class="key-text">(ew_[\w-]{43})<\/code>/.exec(page.body)?.[1] ?? '';
}

/** An instrument's request: no cookie, no form token. */
async function post(url: string, body: object, { using = key, once = randomUUID() as string | null } = {}) {
  const headers = { authorization: `Bearer ${using}`, ...(once === null ? {} : { 'idempotency-key': once }) };
  const answer = await bench.app.inject({ method: 'POST', url, headers, payload: body });
  return { status: answer.statusCode, json: answer.json() as Record<string, unknown> };
}

const warmth = (text: string, at = '2026-11-24T07:30:00Z') => ({
  systemId,
  at,
  readings: [{ quantityCode: 'temperature', text, unit: 'degC' }],
});

describe('an access key', () => {
  test('is shown once, kept as a hash, and listed by its first signs', async () => {
    expect(key).toMatch(/^ew_/);
    const { body } = await owner.get('/people/keys');
    expect(body).not.toContain(key);
    expect(body).toContain('Controller, long run');
    expect(body).toContain(`${key.slice(0, 7)}…`);
    const [row] = await bench.service.db.accessKey.findMany();
    expect(JSON.stringify(row)).not.toContain(key);
    const lines = await bench.service.db.journalLine.findMany({ where: { kind: 'access_key.made' } });
    expect(JSON.stringify(lines)).not.toContain(key);
  });

  test('is made by the owner alone, each under a name of its own', async () => {
    const manager = await bench.as('manager');
    expect((await manager.get('/people/keys')).status).toBe(403);
    expect((await manager.post('/people/keys', { name: 'Mine' })).status).toBe(403);
    const again = await owner.post('/people/keys', { name: 'Controller, long run' });
    expect(again.status).toBe(409);
    expect(again.body).toContain('A key of this name is in use.');
  });

  test('posts readings and doses that are signed with its name', async () => {
    expect((await post('/api/readings', warmth('25.4'))).status).toBe(201);
    const dose = { systemId, substance: 'Soda solution, 1 meq/mL', amount: 20, unit: 'mL' };
    expect((await post('/api/doses', dose)).status).toBe(201);
    const page = await owner.get(`/api/readings?systemId=${systemId}&quantityCode=temperature`);
    expect(page.json()).toMatchObject({ readings: [{ enteredText: '25.4', by: 'Controller, long run' }] });
    const doses = (await owner.get(`/api/doses?systemId=${systemId}`)).json();
    expect(doses).toMatchObject({ entries: [{ amount: 20, by: 'Controller, long run' }] });
  });

  test('does nothing else, and reads nothing', async () => {
    expect((await post('/api/water-changes', { systemId, amount: 10, unit: '%' })).status).toBe(403);
    expect((await post(`/water/systems/${systemId}/readings`, { alkalinity: '8' })).status).toBe(403);
    const headers = { authorization: `Bearer ${key}` };
    expect((await bench.app.inject({ url: '/api/readings', headers })).statusCode).toBe(403);
  });

  test('wants an idempotency key, and the same request twice at once is one reading', async () => {
    expect((await post('/api/readings', warmth('25.5'), { once: null })).status).toBe(400);
    const once = randomUUID();
    const body = warmth('25.6', '2026-11-24T07:40:00Z');
    const [first, second] = await Promise.all([
      post('/api/readings', body, { once }),
      post('/api/readings', body, { once }),
    ]);
    expect(first.json).toEqual(second.json);
    expect(await bench.service.db.reading.count({ where: { systemId, enteredText: '25.6' } })).toBe(1);
    expect((await post('/api/readings', warmth('25.7'), { once })).status).toBe(422);
  });

  test('is not asked whether it is sure: what is implausible is kept and waits', async () => {
    const answer = await post('/api/readings', warmth('31', '2026-11-24T07:50:00Z'));
    expect(answer).toMatchObject({ status: 201, json: { readings: [{ trust: 'unconfirmed' }] } });
  });

  test('opens nothing once it is ended, nor when it is made up', async () => {
    const old = await makeKey('Old doser');
    const { id } = await bench.service.db.accessKey.findFirstOrThrow({ where: { name: 'Old doser' } });
    expect((await owner.post(`/people/keys/${id}/end`, {})).status).toBe(303);
    expect((await post('/api/readings', warmth('25'), { using: old })).status).toBe(401);
    expect((await post('/api/readings', warmth('25'), { using: 'ew_made_up' })).json).toMatchObject({
      status: 401,
      detail: expect.stringContaining('not known'),
    });
    expect((await owner.post(`/people/keys/${id}/end`, {})).status).toBe(409);
    expect(await makeKey('Old doser')).toMatch(/^ew_/);
  });
});

describe('a batch of samples', () => {
  test('is kept each with its time, and what cannot be is named and holds up nothing', async () => {
    const sample = (minute: number, text: string) => ({
      quantityCode: 'ph',
      text,
      at: `2026-11-24T06:${String(minute).padStart(2, '0')}:00Z`,
    });
    const samples = [sample(0, '8.10'), sample(10, '16.4'), sample(20, '8.11'), sample(30, '8.12')];
    const answer = await post('/api/readings/batches', { systemId, samples });
    expect(answer).toMatchObject({
      status: 201,
      json: {
        kept: 3,
        unconfirmed: 0,
        refused: [{ sample: 1, message: expect.stringContaining('cannot be') }],
      },
    });
    const rows = await bench.service.db.reading.findMany({
      where: { systemId, quantityCode: 'ph' },
      orderBy: { at: 'asc' },
    });
    expect(rows.map((row) => row.enteredText)).toEqual(['8.10', '8.11', '8.12']);
    expect(rows[1]?.at).toEqual(new Date('2026-11-24T06:20Z'));
  });

  test('with one time ahead or unreadable is kept but for that one, which is named', async () => {
    const sample = (at: string, text = '8.10') => ({ quantityCode: 'ph', text, at });
    const samples = [
      sample('2026-11-24T07:00:00Z'),
      sample('2031-01-01T00:00:00Z'),
      sample('yesterday'),
      sample('2026-11-24T07:10:00Z'),
    ];
    const answer = await post('/api/readings/batches', { systemId, samples });
    expect(answer).toMatchObject({
      status: 201,
      json: {
        kept: 2,
        refused: [
          { sample: 1, message: expect.stringContaining('lies in the future') },
          { sample: 2, message: expect.stringContaining('cannot be read') },
        ],
      },
    });
    const ahead = { systemId, samples: [sample('2031-01-01T00:00:00Z')] };
    expect((await post('/api/readings/batches', ahead)).status).toBe(422);
  });

  test('is judged sample by sample: a spike is refuted by the next, a jump that stays is confirmed', async () => {
    const values = [26, 26, 26.1, 26, 29.2, 26, 26.1, 28.9, 28.9, 28.9];
    const samples = values.map((value, i) => ({
      quantityCode: 'temperature',
      text: String(value),
      at: new Date(Date.UTC(2026, 10, 24, 0, 10 * i)).toISOString(),
    }));
    const other = await makeSystem(bench, 'Spikes');
    await bench.service.db.systemQuantity.create({
      data: { systemId: other, quantityCode: 'temperature', bandLow: 24, bandHigh: 27 },
    });
    expect((await post('/api/readings/batches', { systemId: other, samples })).status).toBe(201);
    const rows = await bench.service.db.reading.findMany({
      where: { systemId: other },
      orderBy: { at: 'asc' },
    });
    const trust = rows.map((row) => row.trust);
    expect(trust.slice(0, 4)).toEqual(['plain', 'plain', 'plain', 'plain']);
    expect(trust[4]).toBe('refuted');
    expect(trust.slice(5, 7)).toEqual(['plain', 'plain']);
    expect(trust.slice(7, 9)).toEqual(['confirmed', 'confirmed']);
  });
});

import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

let bench: Bench;
let hand: Visitor;
let systemId: string;
let url: string;
let farms = 0;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  await makeSystem(bench, 'First');
  hand = await bench.as('hand', 'Bea');
});
afterAll(() => bench.close());
beforeEach(async () => {
  farms += 1;
  bench.at('2026-11-24T08:00:00Z');
  systemId = await makeSystem(bench, `Run ${farms}`);
  url = `/water/systems/${systemId}/doses`;
});

const kept = () => bench.service.db.dose.findMany({ where: { systemId }, orderBy: { at: 'asc' } });
const bicarbonate = (amount: string, more: Record<string, unknown> = {}) =>
  hand.post(url, { substance: 'sodium bicarbonate', amount, unit: 'g', ...more });
/** 12 g a day in 1,000 L, which raise alkalinity by 0.4 dKH (84.007 g of NaHCO3 are one equivalent). */
async function twoUsualWeeks(): Promise<void> {
  for (let day = 10; day < 24; day += 1) {
    expect((await bicarbonate('12', { at: `2026-11-${day}T08:00` })).status).toBe(303);
  }
}

describe('a dose typed on the page', () => {
  test('as usual is kept and says what it does', async () => {
    await twoUsualWeeks();
    await read(bench, systemId, '2026-11-24T05:00Z', 'alkalinity', '8.1');
    expect((await bicarbonate('12')).status).toBe(303);
    const { body } = await hand.get(url);
    expect(body).toContain('Raises alkalinity by about 0.4 dKH, to about 8.5 dKH (8.1 dKH was read 3 h ago)');
  });

  test('with ten times the usual amount is not kept before somebody says why, and what was typed stays', async () => {
    await twoUsualWeeks();
    await read(bench, systemId, '2026-11-24T05:00Z', 'alkalinity', '8.1');
    const refused = await bicarbonate('120');
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('Raises alkalinity by about 4.0 dKH, to about 12.1 dKH');
    expect(refused.body).toContain('120 g is 10 times the usual 12 g.');
    expect(refused.body).toContain('is above the band of this system, 7.6 to 9.0 dKH');
    expect(refused.body).toContain('value="120"');
    expect(await kept()).toHaveLength(14);
    const told = await bicarbonate('120', { reason: 'The measuring cup was the wrong one; it is in.' });
    expect(told.status).toBe(303);
    const last = (await kept()).at(-1);
    expect(last?.reason).toContain('measuring cup');
    expect(last?.concerns).toHaveLength(3);
    expect((await hand.get(url)).body).toContain('measuring cup');
  });

  test('has to be safe under both readings of the case, the one relied on and one that waits for its repeat', async () => {
    await twoUsualWeeks();
    for (const day of ['21', '22', '23'])
      await read(bench, systemId, `2026-11-${day}T05:00Z`, 'alkalinity', day === '22' ? '8.2' : '8.1');
    const waiting = await read(bench, systemId, '2026-11-24T05:00Z', 'alkalinity', '9.0');
    expect(waiting.trust).toBe('unconfirmed');
    const refused = await bicarbonate('24');
    expect(refused.status).toBe(422);
    expect(refused.body).toMatch(/About 9\.[5-9] dKH, if the unconfirmed 9\.0 dKH holds, is above the band/);
    expect(refused.body).toContain('give what is safe under both, or test again first');
    // A third test settles it.
    await read(bench, systemId, '2026-11-24T06:00Z', 'alkalinity', '8.1');
    expect((await bicarbonate('12')).status).toBe(303);
    expect((await hand.get(url)).body).not.toContain('unconfirmed 9.0');
  });

  test('in kilograms instead of grams is asked about', async () => {
    await twoUsualWeeks();
    const refused = await bicarbonate('12', { unit: 'kg' });
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('times the usual');
  });

  test('in small parts that together pass the daily cap is asked about at the part that passes it', async () => {
    const parts = [];
    for (const hour of ['03', '04', '05', '06', '07']) {
      parts.push((await bicarbonate('8', { at: `2026-11-24T${hour}:00` })).status);
    }
    expect(parts).toEqual([303, 303, 303, 422, 422]);
    expect(await kept()).toHaveLength(3);
  });

  test('of a system that is dosed 1 dKH a day may be 1 dKH more before it is asked about', async () => {
    for (let day = 10; day < 24; day += 1) {
      expect((await bicarbonate('29', { at: `2026-11-${day}T08:00` })).status).toBe(303);
    }
    expect((await bicarbonate('55')).status).toBe(303);
    const more = await bicarbonate('10');
    expect(more.status).toBe(422);
    expect(more.body).toContain('the cap is 1.0 dKH beyond the usual 1.0 dKH');
  });

  test('of unknown effect is compared with its usual amount alone', async () => {
    const tonic = (amount: string) => hand.post(url, { substance: 'mystery tonic', amount, unit: 'mL' });
    expect((await tonic('5')).status).toBe(303);
    expect((await tonic('6')).status).toBe(303);
    const refused = await tonic('50');
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('What it raises is not known. Usual is 5.5 mL.');
  });

  // 60 L of saturated limewater (about 43 meq/L at 25 degC) in 1,000 L: 2.6 meq/L, 7.2 dKH. A keeper reported 56.8 L in 1,193 L.
  test('of limewater whose strength nobody said is weighed as saturated, unless so much is usual', async () => {
    const limewater = (amount: string, more = {}) =>
      hand.post(url, { substance: 'limewater', amount, unit: 'L', ...more });
    const refused = await limewater('60');
    expect(refused.status).toBe(422);
    expect(refused.body).toMatch(
      /What it raises is not known\. Saturated, it raises alkalinity by about 7\.2 dKH/,
    );
    expect((await limewater('4')).status).toBe(303);
    expect((await limewater('5')).status).toBe(303);
    expect((await limewater('60')).body).toContain('times the usual');
  });

  // Common names (common usage). Rises in 1,000 L by IUPAC atomic weights: NaHCO3 84.007, Na2CO3 105.988, CaCl2 110.98 g/mol.
  test.each([
    ['Baking soda', '90', 'g', 'Raises alkalinity by about 3.0 dKH'],
    ['soda ash', '60', 'g', 'Raises alkalinity by about 3.2 dKH'],
    ['baking soda, 80 g/L', '1.2', 'L', 'Raises alkalinity by about 3.2 dKH'],
    ['kalkwasser', '60', 'L', 'Saturated, it raises alkalinity by about 7.2 dKH'],
    ['lime water', '60', 'L', 'Saturated, it raises alkalinity by about 7.2 dKH'],
    ['kalk', '100', 'g', 'As pure calcium hydroxide, it raises alkalinity by about 7.6 dKH'],
    ['washing soda', '100', 'g', 'Free of water, it raises alkalinity by about 5.3 dKH'],
    ['calcium chloride', '400', 'g', 'Free of water, it raises calcium by about 144 mg/L'],
    ['calcium chloride, 200 g/L', '2', 'L', 'Free of water, it raises calcium by about 144 mg/L'],
  ])('of %s is weighed by what that name means: %s %s', async (substance, amount, unit, says) => {
    const refused = await hand.post(url, { substance, amount, unit });
    expect(refused.status).toBe(422);
    expect(refused.body).toContain(says);
  });

  test('into water already at the top of its band wants a reason, however small', async () => {
    await read(bench, systemId, '2026-11-24T05:00Z', 'alkalinity', '8.9');
    const refused = await bicarbonate('12');
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('is above the band of this system');
  });

  test('where nobody tested for a week says that it does not know where it leads', async () => {
    await read(bench, systemId, '2026-11-10T05:00Z', 'alkalinity', '8.1');
    expect((await bicarbonate('12')).status).toBe(303);
    expect((await hand.get(url)).body).toContain('where it leads is not known');
  });

  test('can be looked at before it is saved, which saves nothing', async () => {
    await read(bench, systemId, '2026-11-24T05:00Z', 'alkalinity', '8.1');
    const looked = await bicarbonate('120', { look: 'yes' });
    expect(looked.status).toBe(200);
    expect(looked.body).toContain('What it does');
    expect(looked.body).toContain('to about 12.1 dKH');
    expect(await kept()).toHaveLength(0);
  });
});

describe('a dose as JSON', () => {
  test('of a person wants a reason too, of an instrument is kept with what is unusual about it', async () => {
    const body = { systemId, substance: 'sodium bicarbonate', amount: 120, unit: 'g' };
    const refused = await hand.send('/api/doses', body);
    expect(refused.status).toBe(422);
    expect(refused.json()).toMatchObject({ errors: [{ field: 'reason' }] });
    const kept = await hand.send('/api/doses', { ...body, reason: 'a spill' });
    expect(kept.status).toBe(201);
    expect(kept.json()).toMatchObject({ says: expect.stringContaining('4.0 dKH') });
  });

  test('of an instrument is kept as it happened, and somebody is called to act now', async () => {
    await twoUsualWeeks();
    const owner = await bench.as('owner');
    const page = await owner.post('/people/keys', { name: `Doser ${farms}` });
    const key = /<code class="key-text">(\S+)<\/code>/.exec(page.body)?.[1] ?? '';
    const answer = await bench.app.inject({
      method: 'POST',
      url: '/api/doses',
      headers: { authorization: `Bearer ${key}`, 'idempotency-key': randomUUID() },
      payload: { systemId, substance: 'sodium bicarbonate', amount: 120, unit: 'g' },
    });
    expect(answer.statusCode).toBe(201);
    expect(answer.json()).toMatchObject({
      concerns: [expect.stringContaining('10 times'), expect.any(String)],
    });
    bench.at('2026-11-24T08:01:00Z');
    await evaluateSystems(bench.service, [systemId], bench.service.now());
    const alerts = await openAlerts(bench.service.pool, { systemId });
    expect(alerts.map(({ rule, severity }) => [rule, severity])).toContainEqual(['overdose', 'now']);
    const { id } = alerts.find(({ rule }) => rule === 'overdose') ?? { id: '' };
    expect((await hand.get(`/watch/${id}`)).body).toContain('Stop the source in two ways');
  });
});

describe('a routine that doses', () => {
  test('more than the daily cap each time wants a reason before it is planned', async () => {
    const manager = await bench.as('manager', 'Ada');
    const planned = await manager.post(`/water/systems/${systemId}/routines`, {
      work: 'dose',
      substance: 'sodium bicarbonate',
      amount: '120',
      unit: 'g',
      everyDays: '1',
      startsOn: '2026-11-24',
    });
    expect(planned.status).toBe(422);
    expect(planned.body).toContain('Raises alkalinity by about 4.0 dKH');
  });
});

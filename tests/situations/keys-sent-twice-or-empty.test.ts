import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// H11, a common flaw of forms and programs: a timeout after the change was kept, a retry, and it is there twice.

let bench: Bench;
let hand: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  await makeSystem(bench, 'First');
  hand = await bench.as('hand');
});
afterAll(() => bench.close());

const changes = (systemId: string) => bench.service.db.waterChange.count({ where: { systemId } });
const form = (systemId: string) => `/water/systems/${systemId}/water-changes`;
const asJson = (systemId: string, key?: string) =>
  hand.send(
    '/api/water-changes',
    { systemId, amount: 100, unit: 'L', at: '2026-11-24T07:00:00Z' },
    key === undefined ? {} : { 'idempotency-key': key },
  );

describe('the same thing sent twice', () => {
  test('by a form pressed twice is one record, and both are led on', async () => {
    const systemId = await makeSystem(bench, 'Pressed twice');
    const typed = { _key: uuidv7(), amount: '100', unit: 'L', at: '2026-11-24T07:00' };
    const answers = await Promise.all([1, 2].map(() => hand.post(form(systemId), typed)));
    expect(answers.map(({ status }) => status)).toEqual([303, 303]);
    expect(await changes(systemId)).toBe(1);
  });

  test('by a program, at once and again after a day without network, is one record with one answer', async () => {
    const systemId = await makeSystem(bench, 'Retried');
    const key = uuidv7();
    const [first, second] = await Promise.all([asJson(systemId, key), asJson(systemId, key)]);
    bench.at(new Date(benchNow.getTime() + 86_400_000));
    const late = await asJson(systemId, key);
    bench.at(benchNow);
    expect([second?.json(), late.json()]).toEqual([first?.json(), first?.json()]);
    expect(await changes(systemId)).toBe(1);
  });

  test('under a key that is empty is refused, not taken as if it had none', async () => {
    const systemId = await makeSystem(bench, 'Empty key');
    const answer = await asJson(systemId, '');
    expect([answer.status, answer.json()]).toMatchObject([400, { detail: expect.stringContaining('UUID') }]);
    expect(await changes(systemId)).toBe(0);
  });

  test('a form that was refused keeps its key, so that the one put right counts once', async () => {
    const systemId = await makeSystem(bench, 'Put right');
    const key = uuidv7();
    const refused = await hand.post(form(systemId), { _key: key, amount: 'much', unit: 'L' });
    expect(refused.body).toContain(`name="_key" value="${key}"`);
    const right = { _key: key, amount: '100', unit: 'L', at: '2026-11-24T07:00' };
    await hand.post(form(systemId), right);
    await hand.post(form(systemId), right);
    expect(await changes(systemId)).toBe(1);
  });

  test('a form gone back to and filled in otherwise says that the first was saved, and is saved besides when sent once more', async () => {
    const systemId = await makeSystem(bench, 'Gone back');
    const typed = { _key: uuidv7(), amount: '100', unit: 'L', at: '2026-11-24T07:00' };
    await hand.post(form(systemId), typed);
    const other = { ...typed, amount: '40', at: '2026-11-24T08:00' };
    const refused = await hand.post(form(systemId), other);
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('This form was saved before, with other entries.');
    expect(refused.body).toContain('value="40"');
    expect(await changes(systemId)).toBe(1);
    const key = /name="_key" value="([^"]+)"/.exec(
      refused.body.slice(refused.body.indexOf(`action="${form(systemId)}"`)),
    )?.[1];
    const again = { ...other, _key: key };
    const answers = [await hand.post(form(systemId), again), await hand.post(form(systemId), again)];
    expect(answers.map(({ status }) => status)).toEqual([303, 303]);
    expect(await changes(systemId)).toBe(2);
  });

  test('every form that logs, checks or compares carries a key of its own', async () => {
    const systemId = await makeSystem(bench, 'Keys');
    const method = await bench.service.db.method.findFirstOrThrow({ where: { quantityCode: 'alkalinity' } });
    const kits = [1, 2].map((n) => ({ methodId: method.id, label: `K ${n}`, openedAt: benchNow }));
    const [kit] = await bench.service.db.kit.createManyAndReturn({ data: kits });
    const pages = [
      ...['water-changes', 'doses', 'feedings', 'readings/new'].map(
        (path) => `/water/systems/${systemId}/${path}`,
      ),
      `/water/kits/${kit?.id ?? ''}`,
    ];
    for (const page of pages) {
      const { body } = await hand.get(page);
      const forms = body
        .split('<form method="post"')
        .slice(1)
        .map((part) => part.slice(0, part.indexOf('</form>')));
      const logging = forms.filter((part) =>
        /action="\/water\/[^"]*(water-changes|doses|feedings|readings|checks|pairs)"/.test(part),
      );
      expect(logging.length, page).toBeGreaterThan(0);
      const keys = logging.map((part) => /name="_key" value="([^"]+)"/.exec(part)?.[1]);
      expect(new Set(keys.filter((key) => key !== undefined)).size, page).toBe(logging.length);
    }
  });
});

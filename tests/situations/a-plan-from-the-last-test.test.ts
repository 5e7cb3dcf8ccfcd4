import { afterAll, beforeAll, expect, test } from 'vitest';
import { addWaterChange } from '../../src/water/log/water-changes.ts';
import { withoutMarks } from '../support/figures.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from '../water/farm.ts';

// Figures of an invented farm: nitrate near 20 mg/L for months, then two tests that agree on 34 after a food was changed.

let bench: Bench;
let hand: Visitor;
let systemId: string;
const day = 86_400_000;
const daysAgo = (days: number) => new Date(benchNow.getTime() - days * day);

beforeAll(async () => {
  bench = await startBench({ watching: false });
  systemId = await makeSystem(bench, 'Jump');
  hand = await bench.as('hand');
  for (let days = 98; days >= 7; days -= 7) {
    await read(bench, systemId, daysAgo(days).toISOString(), 'nitrate', days % 2 === 0 ? '20' : '20.6');
    await bench.change((work) =>
      addWaterChange(work, systemId, { amount: 10, unit: '%', at: daysAgo(days - 1), note: '' }),
    );
  }
  await read(bench, systemId, daysAgo(0.02).toISOString(), 'nitrate', '34');
  await read(bench, systemId, daysAgo(0.01).toISOString(), 'nitrate', '34');
});
afterAll(() => bench.close());

const page = async (path: string) =>
  withoutMarks((await hand.get(`/water/systems/${systemId}${path}`)).body).replace(/\s+/g, ' ');

test('a plan starts where two tests that agree stand, whatever the months before said', async () => {
  const last = await bench.service.db.reading.findFirstOrThrow({
    where: { systemId, trust: 'confirmed' },
    orderBy: { at: 'desc' },
  });
  const nutrients = await page('/nutrients?quantity=nitrate');
  const level = Number(/class="lead">([\d.]+) mg\/L/.exec(nutrients)?.[1]);
  expect(Math.abs(level - 34)).toBeLessThanOrEqual(last.uncertainty + 0.06);
});

test('no plan starts from a level that nobody knows any more', async () => {
  bench.at(new Date(benchNow.getTime() + 40 * day).toISOString());
  const nutrients = await page('/nutrients?quantity=nitrate');
  expect(nutrients).toContain(
    'Nitrate was tested 40 days ago for the last time: where it is now is not known.',
  );
  expect(nutrients).not.toContain('Plan A');
  expect(await page('?quantity=nitrate')).not.toContain('With what is made a day');
});

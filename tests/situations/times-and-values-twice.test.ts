import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { bring } from '../intake/files.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// Clock changes of Lisbon in 2026 by the tz database: 29 March 01:00 to 02:00, 25 October 02:00 back to 01:00.

let bench: Bench;
let manager: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager');
  await makeSystem(bench, 'Long run');
});
afterAll(() => bench.close());

async function take(name: string, ...rows: string[]) {
  const { status, location, body } = await bring(
    manager,
    name,
    ['when,system,Alkalinity (dKH)', ...rows].join('\n'),
  );
  expect(status, body).toBe(303);
  const refused = (await manager.get(`${location}?show=refused`)).body;
  await manager.post(`${location}/acceptance`, {});
  return refused;
}

const kept = async () =>
  (await bench.service.db.reading.findMany({ where: { voidedAt: null }, orderBy: { at: 'asc' } })).map(
    ({ at, enteredText }) => `${at.toISOString().slice(0, 16)} ${enteredText}`,
  );

describe('a file that is brought again with a value put right', () => {
  test('never leaves both values at one second: it says which stands, and how to replace it', async () => {
    await take('november.csv', '2026-11-20 07:30,Long run,8.3', '2026-11-21 07:30,Long run,8.4');
    const refused = await take(
      'november-corrected.csv',
      '2026-11-20 07:30,Long run,8.3',
      '2026-11-21 07:30,Long run,7.4',
    );
    expect(refused).toContain('8.4 dKH is there already');
    expect(await kept()).toEqual(['2026-11-20T07:30 8.3', '2026-11-21T07:30 8.4']);
  });
});

describe('the nights on which the clocks change', () => {
  test('an hour that came twice is asked about, kept apart by its offset, and one that never came is refused', async () => {
    const refused = await take(
      'nights.csv',
      '2026-03-29 01:30,Long run,8.1',
      '2026-10-25 01:30,Long run,8.2',
      '2026-10-25 01:30 +01:00,Long run,8.0',
      '2026-10-25 01:30 +00:00,Long run,8.5',
    );
    expect(refused).toContain('never came: the clocks went forward');
    expect(refused).toContain('came twice that night: the clocks went back');
    expect((await kept()).slice(0, 2)).toEqual(['2026-10-25T00:30 8.0', '2026-10-25T01:30 8.5']);
  });
});

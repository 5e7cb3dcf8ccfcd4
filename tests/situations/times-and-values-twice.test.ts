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

describe('a file that says two things of one second', () => {
  test.each([
    [
      'one after the other',
      ['2026-11-10 07:30,Long run,8.3', '2026-11-10 07:30,Long run,7.4'],
      ['8.3', '7.4'],
    ],
    [
      'far apart',
      ['2026-11-11 07:30,Long run,8.3', '2026-11-12 07:30,Long run,8.4', '2026-11-11 07:30,Long run,7.4'],
      ['8.3', '7.4'],
    ],
    [
      'three of them, one a bound',
      ['2026-11-13 07:30,Long run,8.3', '2026-11-13 07:30,Long run,<7', '2026-11-13 07:30,Long run,>9'],
      ['8.3', '<7', '>9'],
    ],
  ])('%s keeps none of them and names each row with the others', async (_, rows, texts) => {
    const refused = await take('twice.csv', ...rows);
    expect(refused.match(/Of the same second and method row \d+ says/g)).toHaveLength(texts.length);
    const day = rows[0]?.slice(0, 10) ?? '';
    expect((await kept()).filter((one) => one.startsWith(day))).toEqual([]);
  });

  test('keeps one of two rows that say the same', async () => {
    await take('same.csv', '2026-11-14 07:30,Long run,8.3', '2026-11-14 07:30,Long run,8.30');
    expect((await kept()).filter((one) => one.startsWith('2026-11-14'))).toEqual(['2026-11-14T07:30 8.3']);
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

  test.each([
    ['of an earlier year', '2025-10-26 01:15', 'came twice that night'],
    ['an hour forward, of an earlier year', '2025-03-30 01:10', 'never came'],
    ['to the second', '2026-10-25 01:59:59', 'came twice that night'],
    ['written the other way round', '25/10/2026 01:05', 'came twice that night'],
  ])('%s neither is shifted in silence', async (_, when, words) => {
    const refused = await take('night.csv', '2026-11-01 07:30,Long run,8.1', `${when},Long run,8.25`);
    expect(refused).toContain(words);
    expect((await kept()).filter((one) => one.endsWith(' 8.25'))).toEqual([]);
  });
});

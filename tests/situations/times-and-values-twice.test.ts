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
  const nothing = async (value: string) =>
    expect((await kept()).filter((one) => one.endsWith(` ${value}`))).toEqual([]);
  /** Reads a file anew with answers, takes it, and gives what is there then of one night. */
  async function answer(location: string, answers: Record<string, string>, night: string) {
    expect((await manager.post(`${location}/reading`, answers)).status).toBe(303);
    const page = (await manager.get(`${location}?show=refused`)).body;
    const taken = await manager.post(`${location}/acceptance`, {});
    expect(taken.status, taken.body).toBe(303);
    return { page, there: (await kept()).filter((one) => one.startsWith(night)) };
  }
  const half = (night: string, ...times: string[]) =>
    times.map((time, i) => `${night} ${time},Long run,8.${i + 1}`);
  const upload = async (rows: readonly string[]) => {
    const brought = await bring(manager, 'night.csv', ['when,system,Alkalinity (dKH)', ...rows].join('\n'));
    return brought.location ?? '';
  };

  test('an hour that came twice is asked about, one that never came as well, and an offset keeps apart', async () => {
    const location = await upload([
      '2026-03-29 01:30,Long run,8.1',
      '2026-10-25 01:30,Long run,8.2',
      '2026-10-25 01:30 +01:00,Long run,8.0',
      '2026-10-25 01:30 +00:00,Long run,8.5',
    ]);
    const asked = (await manager.get(location)).body;
    expect(asked).toContain('The clocks went forward on 2026-03-29 over these times');
    expect(asked).toContain('The clocks went back on 2026-10-25: which hour do these times mean?');
    expect(asked).toContain('the order of the rows does not tell');
    await manager.post(`${location}/acceptance`, {});
    for (const value of ['8.1', '8.2', '8.0', '8.5']) await nothing(value);
    const { there } = await answer(
      location,
      { 'clocks-2026-03-29': 'unchanged', 'clocks-2026-10-25': 'leave' },
      '2026-',
    );
    expect(there.slice(0, 3)).toEqual([
      '2026-03-29T01:30 8.1',
      '2026-10-25T00:30 8.0',
      '2026-10-25T01:30 8.5',
    ]);
  });

  // The autumn nights of 2021 to 2024 by the tz database: 31, 30, 29 and 27 October.
  test.each([
    ['upwards', '2024-10-27', ['00:40', '01:10', '01:50', '01:20', '01:55', '02:30']],
    ['newest first', '2023-10-29', ['02:30', '01:55', '01:20', '01:50', '01:10', '00:40']],
    ['hourly, its time twice', '2022-10-30', ['00:30', '01:30', '01:30', '02:30']],
  ])(
    'rows %s that step back once offer their order, and nothing before it is sent',
    async (_, night, times) => {
      const location = await upload(half(night, ...times));
      const asked = (await manager.get(location)).body;
      expect(asked).toContain('The rows step back once');
      await manager.post(`${location}/acceptance`, {});
      expect((await kept()).filter((one) => one.startsWith(night))).toEqual([]);
      const { there } = await answer(location, { [`clocks-${night}`]: 'rows' }, night);
      const utc = there.map((one) => one.slice(11, 16));
      const expected = {
        '2024-10-27': ['23:40', '00:10', '00:50', '01:20', '01:55', '02:30'].slice(1),
        '2023-10-29': ['00:10', '00:50', '01:20', '01:55', '02:30'],
        '2022-10-30': ['00:30', '01:30', '02:30'],
      }[night];
      expect(utc).toEqual(expected);
    },
  );

  test('two steps back tell nothing: the order is not offered, and all may be meant the second time', async () => {
    const night = '2021-10-31';
    const location = await upload(half(night, '00:40', '01:40', '01:10', '01:50', '01:20', '02:30'));
    const asked = (await manager.get(location)).body;
    expect(asked).toContain('the order of the rows does not tell');
    expect(asked).not.toContain('as the rows follow');
    const { there } = await answer(location, { [`clocks-${night}`]: 'second' }, night);
    expect(there.map((one) => one.slice(11, 16))).toEqual(['01:10', '01:20', '01:40', '01:50', '02:30']);
  });

  test('two systems in one file each have an order of their own', async () => {
    await makeSystem(bench, 'Short run');
    const night = '2020-10-25';
    const rows = ['01:10', '01:40', '01:15', '01:45', '02:20'].flatMap((time, i) => [
      `${night} ${time},Long run,8.${i}`,
      `${night} ${time},Short run,7.${i}`,
    ]);
    const location = await upload([`${night} 00:10,Long run,8.9`, `${night} 00:10,Short run,7.9`, ...rows]);
    const { there } = await answer(location, { [`clocks-${night}`]: 'rows' }, night);
    const hours = (system: string) =>
      there.filter((one) => one.split(' ')[1]?.startsWith(system)).map((one) => one.slice(11, 16));
    expect(hours('8')).toEqual(['00:10', '00:40', '01:15', '01:45', '02:20']);
    expect(hours('7')).toEqual(hours('8'));
  });

  test.each([
    ['of an earlier year', '2025-10-26 01:15', 'The clocks went back on 2025-10-26'],
    ['an hour forward, of an earlier year', '2025-03-30 01:10', 'The clocks went forward on 2025-03-30'],
    ['to the second', '2026-10-25 01:59:59', 'The clocks went back on 2026-10-25'],
    ['written the other way round', '25/10/2026 01:05', 'The clocks went back on 2026-10-25'],
  ])('%s neither is shifted in silence', async (_, when, words) => {
    const location = await upload(['2026-11-01 07:30,Long run,8.1', `${when},Long run,8.25`]);
    expect((await manager.get(location)).body).toContain(words);
    await manager.post(`${location}/acceptance`, {});
    await nothing('8.25');
  });

  test('a file of doses asks the same', async () => {
    const rows = [
      'when,system,what,amount,unit',
      '2026-10-24 20:00,Long run,soda,10,mL',
      '2026-10-25 01:50,Long run,soda,10,mL',
      '2026-10-25 01:20,Long run,soda,11,mL',
      '2026-10-25 20:00,Long run,soda,10,mL',
    ];
    const form = new FormData();
    form.set('kind', 'doses');
    form.set('pasted', rows.join('\n'));
    const brought = await manager.send('/water/log-files', form, { accept: 'text/html' });
    const location = brought.location ?? '';
    const asked = (await manager.get(location)).body;
    expect(asked).toContain('The clocks went back on 2026-10-25');
    expect(asked).toContain('The rows step back once');
  });
});

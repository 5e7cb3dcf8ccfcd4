import { describe, expect, test } from 'vitest';
import { questionIds, read } from '../intake/files.ts';

// A swapped date lands in the future and becomes the latest value; another lands in the past and is ignored (forum
// threads). The clock stands at 24 November 2026.

const file = (...dates: string[]) =>
  ['date,system,Ca', ...dates.map((date) => `${date},Long run,412`)].join('\n');
const moments = async (...dates: string[]) =>
  (await read(file(...dates))).lines.map((line) => line.parsed?.at.toISOString() ?? line.reason);

describe('the order of day and month', () => {
  test('is taken from a date that fits one order only', async () => {
    expect(await moments('03/11/2026', '17/11/2026')).toEqual([
      '2026-11-03T12:00:00.000Z',
      '2026-11-17T12:00:00.000Z',
    ]);
    expect(await moments('11/03/2026', '11/17/2026')).toEqual([
      '2026-11-03T12:00:00.000Z',
      '2026-11-17T12:00:00.000Z',
    ]);
  });

  test('is taken from what would else be in the future', async () => {
    const { format } = await read(file('12/01/2026', '11/02/2026'));
    expect(format.notices.join(' ')).toContain(
      'day first: read the other way, “12/01/2026” would be in the future',
    );
  });

  test('is asked where both fit, and nothing is taken before', async () => {
    const preview = await read(file('03/04/2026', '05/06/2026'));
    expect(questionIds(preview)).toEqual(['order']);
    expect(preview.questions[0]?.text).toBe('Is “03/04/2026” written day first or month first?');
    const answered = await read(file('03/04/2026'), { order: 'month-first' });
    expect(answered.lines[0]?.parsed?.at.toISOString()).toBe('2026-03-04T12:00:00.000Z');
  });

  test('is not taken from what no order fits', async () => {
    expect(questionIds(await read(file('31/31/2026', '03/04/2026')))).toEqual(['order']);
  });

  test('is asked where a file mixes both; what does not fit the answer is refused', async () => {
    const mixed = file('25/10/2026', '10/26/2026');
    expect((await read(mixed)).questions[0]?.hint).toContain('the file mixes both');
    const { lines } = await read(mixed, { order: 'day-first' });
    expect(lines.map((line) => line.state)).toEqual(['taken', 'refused']);
    expect(lines[1]?.reason).toContain('not a day of the calendar read day first');
  });

  test('needs no asking where the year stands first or the month is a word', async () => {
    expect(await moments('2026-11-03', '3 Nov 2026', '"Nov 3, 2026"')).toEqual(
      Array(3).fill('2026-11-03T12:00:00.000Z'),
    );
  });
});

describe('a moment', () => {
  test('in the future is refused, whatever its order: it never becomes the latest value', async () => {
    expect(await moments('2026-12-03')).toEqual([
      'It is in the future. Check the day, the month and the year.',
    ]);
  });

  test('is one of the site’s own clock, through the change of the clocks', async () => {
    const text =
      'when,system,Ca\n2026-07-01 08:00,Long run,410\n2026-10-25 00:30,Long run,411\n2026-10-25 03:30,Long run,412\n2026-11-01 08:00,Long run,413\n2026-11-01T08:00:00+02:00,Long run,414';
    expect((await read(text)).lines.map((line) => line.parsed?.at.toISOString())).toEqual([
      '2026-07-01T07:00:00.000Z',
      '2026-10-24T23:30:00.000Z',
      '2026-10-25T03:30:00.000Z',
      '2026-11-01T08:00:00.000Z',
      '2026-11-01T06:00:00.000Z',
    ]);
  });

  test('that no calendar has, or that is none, is refused with what to write', async () => {
    expect(await moments('2026-02-30', '46350', '')).toEqual([
      '“2026-02-30” is not a day of the calendar.',
      '“46350” is not a day and time. Write it like 2026-11-24 07:30.',
      'The day is missing.',
    ]);
  });
});

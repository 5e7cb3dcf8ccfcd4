import { describe, expect, test } from 'vitest';
import { farm, questionIds, read, said } from '../files.ts';

const head = 'date,system,KH,NO3,kit';
const row = '2026-11-20,Long run,8.2,5,old drops';

describe('what the values of a file were read with', () => {
  test('a kit that the farm has none of is asked about once, with the method that each quantity would count as read by', async () => {
    const file = await read(`${head}\n${row}\n`);
    expect(questionIds(file)).toEqual(['kit-unknown-old~20drops']);
    const [question] = file.questions;
    expect([...(question?.cases.keys() ?? [])]).toEqual([
      'Alkalinity: drop titration',
      'Nitrate: photometer',
    ]);
    const answered = await read(`${head}\n${row}\n`, { 'kit-unknown-old~20drops': 'none' });
    expect(answered.lines.map(said)).toEqual(['taken alkalinity 8.2 dKH', 'taken nitrate 5 mg/L']);
  });

  test('of a quantity with kits the one is chosen, and leaving it out names the usual method', async () => {
    const kits = [
      { method: 'nitrate photometer', label: 'Set 3', openedAt: new Date('2026-01-01T00:00:00Z') },
    ];
    const file = await read(`${head}\n${row}\n`, {}, farm([], kits));
    expect(questionIds(file)).toEqual(['kit-unknown-old~20drops', 'kit-nitrate-old~20drops']);
    expect(file.questions[1]?.choices.map(({ text }) => text)).toContain(
      'None of these; taken as read by the usual method: photometer',
    );
  });

  test('a file that names neither says by which method its values count as read', async () => {
    const { format } = await read('date,system,KH,NO3\n2026-11-20,Long run,8.2,5\n');
    expect(format.notices.join(' ')).toContain(
      'They count as read by the usual method: alkalinity by drop titration and nitrate by photometer.',
    );
  });

  test('a file that names its methods says nothing of the kind', async () => {
    const { format } = await read('date,system,NO3,method\n2026-11-20,Long run,5,colour chart\n');
    expect(format.notices.join(' ')).not.toContain('usual method');
  });
});

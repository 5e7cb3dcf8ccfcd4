import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { parseEntry, plausibilityQuestion, type ReadingEntry } from '../../src/water/entry/entry.rules.ts';
import {
  decimalsIn,
  listQuantities,
  type Quantity,
  sayBand,
  show,
  showDifference,
  unitName,
} from '../../src/water/quantities/quantities.ts';
import type { StoredReading, TrustContext } from '../../src/water/trust/measured.ts';
import { expectedLevel } from '../../src/water/trust/surprise.rules.ts';
import { judgeReading } from '../../src/water/trust/trust.rules.ts';
import { type Bench, startBench } from '../support/service.ts';

let bench: Bench;
let quantities: Map<string, Quantity>;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  quantities = new Map((await listQuantities(bench.service.db)).map((quantity) => [quantity.code, quantity]));
});
afterAll(() => bench.close());

function quantity(code: string): Quantity {
  const found = quantities.get(code);
  if (found === undefined) throw new Error(`no ${code}`);
  return found;
}

const start = Date.parse('2026-11-01T08:00Z');
/** A reading `days` after the start; alkalinity in meq/L unless told. */
const at = (days: number, value: number, more: Partial<StoredReading> = {}): StoredReading => ({
  id: `r${days}`,
  at: new Date(start + days * 86_400_000),
  value,
  below: false,
  uncertainty: 0.036,
  kitId: 'kit a',
  methodId: 'syringe',
  ...more,
});
const steady = Array.from({ length: 20 }, (_, i) => at(i, 3 + (i % 2 ? 0.02 : -0.02)));
const setting = (more: Partial<TrustContext> = {}): TrustContext => ({
  quantity: quantity('alkalinity'),
  band: { low: 2.7, high: 3.2 },
  past: steady,
  pending: [],
  later: [],
  expectedChange: 0,
  ...more,
});

describe('how far a reading is relied on', () => {
  test.each([
    ['like the ones before', at(20, 3.02), {}, 'plain', ''],
    ['the first one ever, inside the band', at(0, 3), { past: [] }, 'plain', ''],
    [
      'the first one ever, outside the band',
      at(0, 2.5),
      { past: [] },
      'unconfirmed',
      'below what this system keeps',
    ],
    ['inside the band, but a jump', at(20, 2.72), {}, 'unconfirmed', 'that the readings before lead to'],
    ['outside the band, where it was yesterday too', at(20, 2.6), { past: [at(19, 2.62)] }, 'plain', ''],
    [
      'outside the band, where it was a month ago',
      at(50, 2.6),
      { past: [at(19, 2.62)] },
      'unconfirmed',
      'keeps',
    ],
    ['a jump that a logged dose explains', at(20, 3.18), { expectedChange: 0.25 }, 'plain', ''],
    [
      'a fall that a logged dose does not explain',
      at(20, 2.72),
      { expectedChange: 0.25 },
      'unconfirmed',
      'that the readings before lead to',
    ],
    ['no band set and no history', at(0, 4), { past: [], band: { low: null, high: null } }, 'plain', ''],
    [
      'no band set and no history, beyond the safe range',
      at(0, 9),
      { past: [], band: { low: null, high: null } },
      'unconfirmed',
      'is above the safe range, 6.0 to 12.0 dKH',
    ],
    [
      'below detection where that is nothing new',
      at(20, 0.1, { below: true }),
      { past: [at(19, 0.1, { below: true })], band: { low: null, high: null } },
      'plain',
      '',
    ],
  ] as const)('%s', (_, reading, more, trust, reason) => {
    const verdict = judgeReading(reading, setting(more as Partial<TrustContext>));
    expect(verdict.trust).toBe(trust);
    expect(verdict.reason).toContain(reason);
  });

  test('what it is off by is the difference of the two figures it is told with, where the log explains a part too', () => {
    const { reason } = judgeReading(at(20, 2.35), setting({ expectedChange: -0.1 }));
    const [, by, led] =
      /It is ([\d.]+) dKH below the ([\d.]+) dKH that the readings before and what was logged since lead to/.exec(
        reason,
      ) ?? [];
    // 2.35 meq/L is 6.6 dKH; 3.0 less the 0.1 that the log explains is 8.1 (2.804 dKH to the meq/L, CRC handbook, from memory).
    expect([by, led]).toEqual(['1.5', '8.1']);
    expect(Number(led) - Number(by)).toBeCloseTo(6.6, 5);
  });

  test('a second reading that agrees confirms both, and says whether the work or the kit', () => {
    const pending = [at(20, 2.5)];
    const same = judgeReading(at(20.02, 2.52), setting({ pending }));
    expect(same.trust).toBe('confirmed');
    expect(same.settles).toMatchObject([{ id: 'r20', trust: 'confirmed' }]);
    expect(same.settles[0]?.reason).toContain('another kit or method would show whether the kit is');
    const other = judgeReading(at(20.02, 2.52, { kitId: 'kit b' }), setting({ pending }));
    expect(other.settles[0]?.reason).toContain('by another kit, so the kit reads right too');
    const method = judgeReading(
      at(20.02, 2.52, { methodId: 'photometer', kitId: null }),
      setting({ pending }),
    );
    expect(method.settles[0]?.reason).toContain('by another method');
  });

  test('a second reading that fits the history refutes the first, one that fits neither settles nothing', () => {
    const pending = [at(20, 2.5)];
    expect(judgeReading(at(20.02, 3.01), setting({ pending })).settles).toMatchObject([
      { id: 'r20', trust: 'refuted' },
    ]);
    const neither = judgeReading(at(20.02, 3.6), setting({ pending }));
    expect(neither.trust).toBe('unconfirmed');
    expect(neither.settles).toEqual([]);
  });

  test('a reading days later no longer refutes: the water may have changed; after a week it confirms nothing', () => {
    const pending = [at(20, 2.5)];
    expect(judgeReading(at(23, 3.01), setting({ pending })).settles).toEqual([]);
    expect(judgeReading(at(29, 2.5), setting({ pending })).settles).toEqual([]);
  });

  test('a reading entered late is settled by the one that came after it', () => {
    expect(judgeReading(at(20, 2.5), setting({ later: [at(20.02, 3.01)] }))).toMatchObject({
      trust: 'refuted',
      settledBy: 'r20.02',
    });
    expect(judgeReading(at(20, 2.5), setting({ later: [at(20.02, 2.5)] }))).toMatchObject({
      trust: 'confirmed',
      settledBy: 'r20.02',
    });
  });

  test('the water is known better the longer it was tested, and less the longer ago', () => {
    const alkalinity = quantity('alkalinity');
    const known = (past: readonly StoredReading[], day: number) =>
      expectedLevel(past, alkalinity, at(day, 0).at)?.sd ?? 0;
    expect(expectedLevel([], alkalinity, at(1, 0).at)).toBeNull();
    expect(known(steady, 20)).toBeLessThan(known(steady.slice(-1), 20));
    expect(known(steady, 28)).toBeGreaterThan(1.5 * known(steady, 20));
  });
});

describe('what is asked before a reading is kept', () => {
  const asked = (code: string, value: number, unit: string, last: number | null) => {
    const read = parseEntry({ quantityCode: code, text: String(value), unit }, quantity(code), {
      absolute: 0,
      relative: 0.1,
      detectionLimit: null,
    });
    if (!read.ok || read.reading === null) throw new Error('not understood');
    const measured = at(1, read.reading.value, { uncertainty: read.reading.uncertainty });
    const before = last === null ? null : at(0, last, { uncertainty: last / 10 });
    return plausibilityQuestion(quantity(code), { value, unit, measured }, before) ?? '';
  };
  test.each([
    ['alkalinity', 8.3, 'dKH', null, ''],
    ['alkalinity', 16, 'dKH', null, '16 dKH is not'],
    ['calcium', 42, 'mg/L', 430, 'Did you mean 420 mg/L?'],
    ['salinity', 53, 'PSU', 35, 'Did you mean 53 mS/cm?'],
    ['temperature', 42, 'degC', 25.6, 'Check the decimal point and the unit.'],
    ['nitrate', 20, 'mg/L', 2, '10.0 times the last reading'],
    ['nitrate', 2, 'mg/L', 20, 'one 10.0th of the last reading'],
    ['nitrate', 8.9, 'mg/L', 2, 'mg/L as N versus mg/L as NO₃'],
    ['phosphate', 0.31, 'mg/L', 0.1, 'mg/L as P versus mg/L as PO₄'],
    ['nitrate', 6, 'mg/L', 2, ''],
    ['nitrate', 20, 'mg/L', 15, ''],
  ] as const)('%s %d %s after %s', (code, value, unit, last, query) => {
    const said = asked(code, value, unit, last);
    if (query === '') expect(said).toBe('');
    else expect(said).toContain(query);
  });
});

describe('what a line means', () => {
  const photometer = { absolute: 0.012, relative: 0.06, detectionLimit: 0.02 };
  const read = (
    text: string,
    more: Partial<ReadingEntry> = {},
    method: Parameters<typeof parseEntry>[2] = photometer,
  ) => parseEntry({ quantityCode: 'phosphate', text, ...more }, quantity('phosphate'), method);
  test.each([
    ['0.05', { value: 0.05, below: false }],
    ['0,05', { value: 0.05, below: false }],
    ['50 ug/L', { value: 0.05, below: false }],
    ['<0.05', { value: 0.05, below: true }],
    ['ND', { value: 0.02, below: true }],
    ['0.00', { value: 0.02, below: true }],
  ])('%s', (text, reading) => {
    expect(read(text)).toMatchObject({ ok: true, reading });
  });

  test('nothing measured is no reading, and what cannot be read says what to write', () => {
    expect(read('-')).toEqual({ ok: true, reading: null });
    expect(read('')).toEqual({ ok: true, reading: null });
    expect(read('>1')).toMatchObject({ ok: true, reading: { value: 1, above: true, below: false } });
    expect(read('ND', {}, null)).toMatchObject({ ok: false, message: expect.stringContaining('like <0.02') });
    expect(read('5', { unit: 'dKH' })).toMatchObject({
      ok: false,
      message: expect.stringContaining('from the list'),
    });
    expect(read('60')).toMatchObject({
      ok: false,
      message: expect.stringContaining('Did you mean 60 µg/L as PO₄, 60 µg/L as P or 0.6 mg/L as PO₄?'),
    });
  });
});

describe('a value as the farm writes it', () => {
  test('has the farm’s unit and decimals, and a concentration says what it counts', () => {
    expect(show(quantity('alkalinity'), 3)).toEqual({ text: '8.4', unit: 'dKH' });
    expect(show(quantity('nitrate'), 7.55)).toEqual({ text: '7.6', unit: 'mg/L as NO₃' });
    expect(show(quantity('ph'), 8.1)).toEqual({ text: '8.10', unit: '' });
    expect(show(quantity('temperature'), 25.6)).toEqual({ text: '25.6', unit: '°C' });
    expect(unitName('ammonia', 'ug/L NH4')).toBe('µg/L as NH₄');
    expect(unitName('alkalinity', 'mg/L CaCO3')).toBe('mg/L CaCO₃');
  });

  test('a small difference never reads as nothing', () => {
    expect(showDifference(quantity('temperature'), 0.03, 25).text).toBe('0.03');
    expect(showDifference(quantity('alkalinity'), 0.036, 3).text).toBe('0.1');
  });

  test('falls back on the stored unit where the farm’s cannot express it', () => {
    expect(show({ ...quantity('salinity'), displayUnit: 'mS/cm' }, 0.5)).toEqual({
      text: '0.5',
      unit: 'PSU',
    });
  });

  test('has about as many decimals in another unit', () => {
    expect(decimalsIn(quantity('alkalinity'), 'meq/L')).toBe(2);
    expect(decimalsIn(quantity('alkalinity'), 'mg/L CaCO3')).toBe(0);
    expect(decimalsIn(quantity('temperature'), 'degF')).toBe(1);
    expect(decimalsIn(quantity('salinity'), 'SG 25/25')).toBe(4);
  });

  test('a band is said with the ends it has', () => {
    const nitrate = quantity('nitrate');
    expect(sayBand(nitrate, 2, 15)).toBe('2.0 to 15.0 mg/L as NO₃');
    expect(sayBand(nitrate, null, 15)).toBe('at most 15.0 mg/L as NO₃');
    expect(sayBand(nitrate, 2, null)).toBe('at least 2.0 mg/L as NO₃');
    expect(sayBand(nitrate, null, null)).toBeNull();
  });
});

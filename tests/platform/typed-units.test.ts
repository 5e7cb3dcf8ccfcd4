import { describe, expect, test } from 'vitest';
import { optionalVolume, volume } from '../../src/platform/web/fields/measures.ts';
import { number, optionalNumber, whole } from '../../src/platform/web/fields.ts';

describe('a number with its unit typed after it', () => {
  const share = number({ what: 'the share', low: 0, high: 100, unit: '%' });
  const height = number({ what: 'the height', low: 5, high: 5000, unit: 'cm' });
  const days = whole({ what: 'the days', low: 1, high: 60, unit: 'days' });
  const tank = volume({ what: 'the volume', low: 1, high: 1e6 });
  test.each([
    [share, '40 %', 40],
    [share, '40%', 40],
    [height, '240 cm', 240],
    [height, ' 240,5 CM. ', 240.5],
    [height, '1 200 cm', 1200],
    [days, '3 days', 3],
    [days, '1 day', 1],
    [tank, '1500 L', 1500],
    [tank, '1500l', 1500],
    [height, '240', 240],
  ])('is read: case %#', (field, typed, value) => {
    expect(field.parse(typed)).toBe(value);
  });

  test.each([
    [height, '240 mm'],
    [height, 'cm'],
    [share, '40 cm'],
    [tank, '1500 gal'],
    [days, '3 weeks'],
  ])('is refused with another unit, or no number: case %#', (field, typed) => {
    expect(field.safeParse(typed).success).toBe(false);
  });

  test('asks where a mark before three digits may be either, with the unit too; nothing typed is nothing', () => {
    expect(JSON.stringify(tank.safeParse('1.500 L').error?.issues)).toContain('Is that 1500 or 1.5 L?');
    expect(optionalVolume({ what: 'it', low: 0, high: 9 }).parse('')).toBeNull();
    expect(optionalNumber({ what: 'it', low: 0, high: 9, unit: 'g' }).parse(' ')).toBeNull();
  });
});

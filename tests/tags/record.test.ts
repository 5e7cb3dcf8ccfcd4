import { describe, expect, test } from 'vitest';
import type { Exposure } from '../../src/stock/light/exposure.ts';
import { flowPicture, lightPicture } from '../../src/tags/public/pictures.rules.ts';
import { lightOver } from '../../src/tags/record/record.rules.ts';
import type { TagRecord } from '../../src/tags/record/record.ts';

const now = new Date('2026-11-24T00:00:00Z');
const ago = (days: number) => new Date(now.getTime() - days * 86_400_000);
const stay = (from: number, to: number | null, par: number, dli: number) =>
  ({ from: ago(from), to: to === null ? null : ago(to), par, dli }) as Exposure;

// Weighted means by hand: 20 days at 3 and 10 days at 6 mol/(m2 d) are (60 + 60) / 30 = 4.
describe('the light a record keeps of the last 30 days', () => {
  test.each<[string, Exposure[], object | null]>([
    ['is null where none is known', [], null],
    ['is null where all of it is longer ago', [stay(90, 31, 100, 4)], null],
    [
      'weighs each stretch by its days',
      [stay(30, 10, 80, 3), stay(10, null, 160, 6)],
      { dailyLight: 4, parLow: 80, parHigh: 160 },
    ],
    [
      'counts only the days within',
      [stay(80, 10, 80, 3), stay(10, null, 160, 6)],
      { dailyLight: 4, parLow: 80, parHigh: 160 },
    ],
    [
      'counts a stretch without an end until now',
      [stay(10, null, 90.4, 3.333)],
      { dailyLight: 3.33, parLow: 90 },
    ],
    [
      'counts nothing that is still to come',
      [stay(10, null, 90, 3), stay(-1, null, 500, 20)],
      { parHigh: 90 },
    ],
  ])('%s', (_, exposures, expected) => {
    const light = lightOver(exposures, 30, now);
    if (expected === null) expect(light).toBeNull();
    else expect(light).toMatchObject({ days: 30, ...expected });
  });
});

describe('the pictures of a tag', () => {
  const care = { parLow: 50, parHigh: 200 };
  const light = { par: 100, spans: [{ days: 90, dailyLight: 4, parLow: 80, parHigh: 160 }] };
  const record = (more: object) => ({ light, care, ...more }) as unknown as TagRecord;

  test('of light are none where it was never measured', () => {
    expect(lightPicture(record({ light: null }))).toBe('');
  });

  test('of light say its figures in words too', () => {
    expect(lightPicture(record({}))).toContain(
      'aria-label="Light on a scale from dim to bright: it is at 100, lived between 80 and 160; its kind is kept at 50 to 200."',
    );
  });

  test('of light draw no band for a kind without one', () => {
    expect(lightPicture(record({}))).toContain('class="band"');
    const picture = lightPicture(record({ care: { parLow: 50, parHigh: null } }));
    expect(picture).not.toContain('class="band"');
    expect(picture).not.toContain('its kind is kept');
  });

  test('of light keep a mark beyond the scale at its end', () => {
    const point = (par: number) =>
      /<circle class="point" cx="([\d.]+)"/.exec(lightPicture(record({ light: { ...light, par } })))?.[1];
    expect(point(20)).toBe('8');
    expect(point(5)).toBe(point(20));
    expect(point(500)).toBe('272');
    expect(point(900)).toBe(point(500));
    // Twice as bright is the same step everywhere: 100 stands half way between 50 and 200.
    expect(Number(point(100))).toBeCloseTo((Number(point(50)) + Number(point(200))) / 2, 0);
  });

  test.each([
    ['still', 'still', 0, 'still'],
    ['low', 'medium', 2, 'low to medium'],
    ['high', 'high', 3, 'high'],
  ])('of flow from %s to %s have %i waves', (low, high, waves, words) => {
    const picture = flowPicture(record({ flow: { low, high, jet: false } }));
    expect(picture.match(/<path/g) ?? []).toHaveLength(waves);
    expect(picture).toContain(`Flow: ${words}.`);
  });

  test('of flow are none where it was not recorded', () => {
    expect(flowPicture(record({ flow: null }))).toBe('');
  });
});

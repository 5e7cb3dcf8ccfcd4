import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { tonesOf } from '../../src/platform/views/tones.ts';

/*
 * Contrast of every pair of tones that meet, by the definitions of "relative luminance" and "contrast ratio" in
 * Web Content Accessibility Guidelines (WCAG) 2.2, W3C Recommendation; thresholds of its success criteria 1.4.3
 * (text, 4.5:1) and 1.4.11 (controls and graphics, 3:1).
 */
const css = readFileSync(new URL('../../views/assets/evenwater.css', import.meta.url), 'utf8');

type Palette = ReadonlyMap<string, string>;

function tone(palette: Palette, name: string): string {
  const value = palette.get(name) ?? '';
  if (!/^#[0-9a-f]{6}$/.test(value)) throw new Error(`--${name} is "${value}", not a tone`);
  return value;
}

function luminance(hex: string): number {
  const [r = 0, g = 0, b = 0] = [1, 3, 5]
    .map((at) => Number.parseInt(hex.slice(at, at + 2), 16) / 255)
    .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}

function contrast(a: string, b: string): number {
  const [high = 0, low = 0] = [luminance(a), luminance(b)].sort((x, y) => y - x);
  return (high + 0.05) / (low + 0.05);
}

const GROUNDS = ['paper', 'sheet', 'pressed'];
const RACK = ['rack-0', 'rack-1', 'rack-2', 'rack-3', 'rack-4', 'rack-5', 'rack-6'];

/** Ink that is read, and what it stands on. */
const TEXT: [string, string[]][] = [
  ['ink', [...GROUNDS, 'chart-band', 'chart-forecast', ...RACK, 'rack-label']],
  ['ink-2', [...GROUNDS, 'chart-band', 'chart-forecast', 'rack-label']],
  ['now', [...GROUNDS, 'chart-band', 'chart-forecast', 'rack-label']],
  ['today', [...GROUNDS, 'rack-label']],
  ['on-ink', ['ink', 'ink-hover', 'now']],
];
/** Lines and shapes that carry meaning, or are the edge of a control. */
const SHAPES: [string, string[]][] = [
  ['edge', GROUNDS.slice(0, 2)],
  ['chart-ink-2', ['paper', 'chart-band', 'chart-forecast']],
  ['rack-flow', RACK],
  ['now', RACK],
  ['today', RACK],
];
const pairs = (list: [string, string[]][]) =>
  list.flatMap(([ink, grounds]) => grounds.map((ground) => [ink, ground] as const));

describe('the contrast formula', () => {
  it('gives the ends of the scale that WCAG 2.2 states: 21:1 and 1:1', () => {
    expect(contrast('#000000', '#ffffff')).toBeCloseTo(21, 10);
    expect(contrast('#777777', '#777777')).toBe(1);
  });

  it('finds #767676 the lightest grey that passes on white (common knowledge of WCAG checkers, from memory)', () => {
    expect(contrast('#767676', '#ffffff')).toBeGreaterThanOrEqual(4.5);
    expect(contrast('#777777', '#ffffff')).toBeLessThan(4.5);
  });
});

describe.each([
  ['light', tonesOf(css, 'light')],
  ['dark', tonesOf(css, 'dark')],
])('on the %s page', (_name, palette) => {
  it.each(pairs(TEXT))('%s is read on %s', (ink, ground) => {
    expect(contrast(tone(palette, ink), tone(palette, ground))).toBeGreaterThanOrEqual(4.5);
  });

  it.each(pairs(SHAPES))('%s is seen on %s', (ink, ground) => {
    expect(contrast(tone(palette, ink), tone(palette, ground))).toBeGreaterThanOrEqual(3);
  });

  it('brighter light is a brighter tone of paper, step by step', () => {
    const steps = RACK.map((step) => luminance(tone(palette, step)));
    expect(steps).toEqual([...steps].sort((a, b) => a - b));
    expect(new Set(steps).size).toBe(RACK.length);
  });
});

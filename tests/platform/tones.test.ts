import { readFileSync } from 'node:fs';
import { Resvg } from '@resvg/resvg-js';
import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { pictureStyle, tonesOf } from '../../src/platform/views/tones.ts';
import { sampleChart, sampleRack } from './samples/pictures.ts';

const read = (path: string) => readFileSync(new URL(`../../views/${path}`, import.meta.url), 'utf8');
const css = read('assets/evenwater.css');

describe('tones of the stylesheet', () => {
  it('follow variables, each in its own scheme', () => {
    expect(tonesOf(css, 'light').get('chart-ink')).toBe(tonesOf(css, 'light').get('ink'));
    expect(tonesOf(css, 'dark').get('chart-ink')).toBe(tonesOf(css, 'dark').get('ink'));
    expect(tonesOf(css, 'light').get('ink')).not.toBe(tonesOf(css, 'dark').get('ink'));
  });

  it('are refused when one is used that is not defined', () => {
    expect(() =>
      tonesOf(css.replace('--chart-ink: var(--ink)', '--chart-ink: var(--gone)'), 'light'),
    ).toThrow('--gone');
    expect(() => tonesOf('body {}', 'light')).toThrow(/defines no tones/);
  });

  it('are the only ones a mail uses', () => {
    const known = new Set(tonesOf(css, 'light').values());
    const used = read('layouts/mail.hbs').match(/#[0-9a-f]{6}\b/g) ?? [];
    expect(used.length).toBeGreaterThan(0);
    expect(used.filter((tone) => !known.has(tone))).toEqual([]);
  });

  it('are all used, and every one that is used is defined', () => {
    const defined = [...tonesOf(css, 'light').keys()];
    const used = new Set([...css.matchAll(/var\(--([a-z0-9-]+)\)/g)].map((m) => m[1]));
    expect(defined.filter((name) => !used.has(name))).toEqual([]);
    expect([...used].filter((name) => !defined.includes(name ?? ''))).toEqual([]);
  });
});

describe('a picture that leaves the house', () => {
  it.each([
    ['chart', sampleChart()],
    ['rack', sampleRack()],
  ])('keeps its ink: %s', async (_kind, picture) => {
    const style = `<style>${pictureStyle(css)}</style>`;
    const svg = picture.replace(/^<svg/, '<svg xmlns="http://www.w3.org/2000/svg"').replace('>', `>${style}`);
    const png = new Resvg(svg, { background: tonesOf(css, 'light').get('paper') ?? '' }).render().asPng();
    const { data } = await sharp(png).removeAlpha().raw().toBuffer({ resolveWithObject: true });
    const seen = new Set(
      Array.from({ length: data.length / 3 }, (_, i) => data.subarray(i * 3, i * 3 + 3).toString('hex')),
    );
    for (const name of _kind === 'chart'
      ? ['ink', 'chart-forecast', 'now']
      : ['rack-1', 'rack-6', 'ink', 'now']) {
      expect(seen, name).toContain((tonesOf(css, 'light').get(name) ?? '').slice(1));
    }
  });

  it('carries no variable', () => {
    expect(pictureStyle(css)).not.toContain('var(');
    expect(() => pictureStyle(css.replace('/* Charts: ', '/* '))).toThrow(/no section/);
  });
});

import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/science/statistics/random.ts';
import {
  type ComparedCut,
  groupsOf,
  logRankOf,
  standsOut,
  survivalOf,
} from '../../src/stock/survival/compare.rules.ts';
import { type CountLine, followCut } from '../../src/stock/survival/pieces.rules.ts';
import { gapWords, standsOutWords } from '../../src/stock/survival/survival.words.ts';

const cutAt = new Date('2026-06-01T12:00:00Z');
const on = (day: number) => new Date(cutAt.getTime() + day * 86_400_000);
const line = (
  day: number,
  change: number,
  reason: CountLine['reason'],
  missing: number | null = null,
): CountLine => ({
  at: on(day),
  change,
  reason,
  missing,
  voided: false,
});
const follow = (lines: CountLine[], looks: number[], pieces = 10) => {
  const { pieces: followed, gaps } = followCut({ cutAt, pieces, lines, looks: looks.map(on) });
  const told = followed.map(({ time, lost }) => `${Math.round(time)}${lost ? '' : '+'}`);
  return { told: [...Map.groupBy(told, (one) => one)].map(([one, all]) => `${all.length} x ${one}`), gaps };
};

describe('how long a piece is known to have lived', () => {
  test.each([
    ['nobody counted: nothing is known', [], [], ['10 x 0+']],
    ['counted on day 7 and 30: up to day 30', [], [7, 30], ['10 x 30+']],
    ['sold on day 50: alive until then', [line(50, -4, 'sold')], [30], ['4 x 50+', '6 x 30+']],
    ['found dead on day 30: lost then', [line(30, -3, 'lost', 0)], [7, 30], ['3 x 30', '7 x 30+']],
    [
      'not found on day 30: not followed past day 7',
      [line(30, -3, 'lost', 3)],
      [7, 30],
      ['3 x 7+', '7 x 30+'],
    ],
    ['one dead and one not found', [line(30, -2, 'lost', 1)], [7, 30], ['1 x 7+', '1 x 30', '8 x 30+']],
    ['taken off the count as lost: the others were seen', [line(12, -1, 'lost')], [], ['1 x 12', '9 x 12+']],
    ['a recount says nothing of when', [line(40, -2, 'recount')], [7], ['2 x 7+', '8 x 7+']],
    [
      'others joined it: from then on it is not followed',
      [line(9, 5, 'merged'), line(20, -4, 'lost')],
      [7, 30],
      ['10 x 7+'],
    ],
    [
      'a count taken back counts for nothing',
      [{ ...line(30, -3, 'lost', 0), voided: true }, line(31, 3, 'recount')],
      [7],
      ['10 x 7+'],
    ],
  ] as const)('%s', (_, lines, looks, told) => {
    const sum = follow([...lines], [...looks]);
    expect(sum.told.join()).toBe(mergeSame(told).join());
  });

  test('the days nobody looked before a loss are told', () => {
    expect(follow([line(30, -3, 'lost', 0)], [7, 30]).gaps).toEqual([23]);
    expect(gapWords([23, 4])).toContain('23 at most');
    expect(gapWords([])).toBe('');
  });
});

/** Equal entries are one: "2 x 7+" and "8 x 7+" are "10 x 7+". */
function mergeSame(told: readonly string[]): string[] {
  const sums = new Map<string, number>();
  for (const one of told) {
    const [count = '0', what = ''] = one.split(' x ');
    sums.set(what, (sums.get(what) ?? 0) + Number(count));
  }
  return [...sums].map(([what, count]) => `${count} x ${what}`);
}

/** Cuts of a made-up farm: each with its own luck, so that pieces of one cut share their fate. */
function farm(seed: number, badTool: boolean): ComparedCut[] {
  const random = seededRandom(seed);
  return Array.from({ length: 36 }, (_, i) => {
    const tool = `saw ${i % 4}`;
    const luck = 0.05 + 0.15 * random.uniform();
    const chance = badTool && tool === 'saw 2' ? 0.5 : luck;
    const pieces = Array.from({ length: 4 + random.below(6) }, () => {
      const lost = random.uniform() < chance;
      return { time: lost ? ([7, 30, 90][random.below(3)] ?? 7) : 90, lost };
    });
    const of = {
      ...{
        tool,
        method: i % 2 === 0 ? 'Band saw' : 'Blade',
        hand: `hand ${random.below(3)}`,
        kind: `kind ${i % 5}`,
      },
      ...{
        donor: `mother ${i % 12}`,
        size: ['15 to 24 mm', '25 to 39 mm'][random.below(2)] ?? '',
        rack: `rack ${random.below(4)}`,
      },
    };
    return { pieces, of };
  });
}

describe('what stands out', () => {
  test('is the saw that was planted, in nearly every farm', () => {
    const found = Array.from({ length: 30 }, (_, i) => standsOut(farm(700 + i, true)).found);
    const right = found.filter((one) => one?.by === 'tool' && one.name === 'saw 2').length;
    expect(right).toBeGreaterThanOrEqual(24);
    const one = found.find((each) => each !== null);
    expect(one == null ? '' : standsOutWords(one)).toMatch(
      /pieces lost of \d+ cuts, about \d+ would be usual/,
    );
  });

  test('is nothing where nothing was planted, but for one farm in twenty', () => {
    const named = Array.from({ length: 100 }, (_, i) => standsOut(farm(9000 + i, false)).found).filter(
      (one) => one !== null,
    );
    // 5 of 100 on average; 11 or more come by chance in about 1 run of 100 (binomial), and the seeds are fixed.
    expect(named.length).toBeLessThanOrEqual(10);
  });

  test('is too few to say with a handful of pieces', () => {
    expect(standsOut(farm(1, true).slice(0, 3))).toEqual({ found: null, tooFew: true });
    const few = survivalOf('saw', farm(1, true).slice(0, 1));
    expect(few.tooFew).toBe(true);
    expect(logRankOf([few], [{ cuts: farm(1, true).slice(0, 1) }])).toBeNull();
  });

  test('names what the same cuts share as well', () => {
    const cuts = farm(3, true).map((cut) => ({
      ...cut,
      of: { ...cut.of, hand: cut.of.tool === 'saw 2' ? 'Ida' : 'Nela' },
    }));
    const { found } = standsOut(cuts);
    expect([found?.name, ...(found?.same ?? []).map(({ name }) => name)].sort()).toEqual(['Ida', 'saw 2']);
  });

  test('compares groups by their curves', () => {
    const groups = groupsOf(farm(5, true), 'tool');
    const told = groups.map((group) => survivalOf(group.name, group.cuts));
    const bad = told.find(({ name }) => name === 'saw 2');
    const good = told.find(({ name }) => name === 'saw 1');
    expect(bad?.at[2]?.survival).toBeLessThan(good?.at[2]?.low ?? 0);
    expect(logRankOf(told, groups)?.p).toBeLessThan(0.01);
  });
});

import { describe, expect, test } from 'vitest';
import {
  type Box,
  boxRange,
  boxVerdict,
  type KindTemperatures,
  rangeWords,
} from '../../src/stock/shipping/box.rules.ts';
import { claimClock } from '../../src/stock/shipping/claims.rules.ts';
import { permitDifferences } from '../../src/stock/shipping/permits.rules.ts';
import { lossTables } from '../../src/stock/shipping/results.rules.ts';

// The box of the published example (see tests/science/foam-box.test.ts): 16.5 degC after 12 h from 25 in air of 5.
const box: Box = {
  ...{ wall: 'foam', pack: 'none', lengthCm: 40, widthCm: 30, litres: 8, hours: 12 },
  ...{ startDegC: 25, coldestDegC: 5, warmestDegC: 15 },
};
const kind = { name: 'Acropora tenuis', boxLow: 18, boxHigh: 30, keptLow: 24, keptHigh: 28 };
const say = (degC: number) => `${degC.toFixed(1)} °C`;
const verdict = (change: Partial<Box>, kinds: KindTemperatures[] = [kind]) =>
  boxVerdict({ ...box, ...change }, kinds, say);

describe('a box on its way', () => {
  test('is refused below what a kind bears in it, and says by how much', () => {
    const cold = verdict({});
    expect(cold.answer).toBe('refused');
    expect(cold.lines).toEqual([
      'The water in the bags may fall to 16.5 °C. By your care figures Acropora tenuis is not sent below 18.0 °C.',
      'What helps: a heat pack, a box that insulates better, a faster carrier, or waiting for warmer weather.',
    ]);
    expect(cold.range === null ? '' : rangeWords(cold.range, say)).toBe('16.5 °C to 20.8 °C');
  });

  test('is refused above it too', () => {
    const hot = verdict({ coldestDegC: 30, warmestDegC: 45, hours: 24 });
    expect(hot.answer).toBe('refused');
    expect(hot.lines[0]).toContain('is not sent above 30.0 °C');
  });

  test('fits where it stays between what the kind is kept at, and also where it leaves that, which is told', () => {
    expect(verdict({ coldestDegC: 24, warmestDegC: 27 })).toMatchObject({ answer: 'fits', lines: [] });
    const cool = verdict({ coldestDegC: 15, warmestDegC: 24 });
    expect(cool.answer).toBe('fits');
    expect(cool.lines[0]).toBe(
      'The water in the bags may fall to 20.8 °C. By your care figures Acropora tenuis is kept above 24.0 °C.',
    );
  });

  test('of unknown walls lies anywhere between its start and the air: warned, and refused only where both are past it', () => {
    const unknown = { wall: 'unknown', lengthCm: null, widthCm: null, litres: null, hours: null } as const;
    expect(boxRange({ ...box, ...unknown })).toMatchObject({ low: 5, high: 25 });
    expect(verdict(unknown).answer).toBe('warned');
    expect(verdict({ ...unknown, startDegC: 16, warmestDegC: 16 }).answer).toBe('refused');
    expect(verdict({ ...unknown, coldestDegC: 24.5, warmestDegC: 27 }).answer).toBe('fits');
  });

  test('of thicker foam ends between the formula and its start, and so is not refused by the formula', () => {
    expect(boxRange({ ...box, wall: 'thicker' })).toMatchObject({ high: 25 });
    expect(verdict({ wall: 'thicker' }).answer).toBe('warned');
  });

  test('with a heat pack says what it would be without, and that how warm it gets cannot be said', () => {
    const heated = verdict({ pack: 'heat' });
    expect(heated.answer).toBe('warned');
    expect(heated.lines[0]).toContain('Without its heat pack the water in the bags may fall to 16.5 °C');
    expect(heated.lines.join(' ')).not.toContain('a heat pack,');
    expect(heated.lines.at(-1)).toContain('How much the heat pack warms is not known.');
    expect(heated.range === null ? '' : rangeWords(heated.range, say)).toBe(
      'at least 16.5 °C; how warm cannot be said',
    );
  });

  test('says once what is so of several kinds', () => {
    const other = { ...kind, name: 'Acropora muricata' };
    const cool = verdict({ coldestDegC: 15, warmestDegC: 24 }, [kind, other]);
    expect(cool.lines).toEqual([
      'The water in the bags may fall to 20.8 °C. By your care figures Acropora tenuis and Acropora muricata are kept above 24.0 °C.',
      'What helps: a heat pack, a box that insulates better, a faster carrier, or waiting for warmer weather.',
    ]);
  });

  test('says what is missing instead of a figure', () => {
    const said = verdict({ hours: null, coldestDegC: null });
    expect(said).toMatchObject({ answer: 'unsaid', range: null });
    expect(said.lines[0]).toContain('the coldest air on the way, the hours from door to door');
  });

  // F07 of what the trade reports: safe for 20 h in bags with oxygen, some of every set dead past 48 h.
  test('of more than 20 hours is warned of, and of more than 48 refused, however warm it stays', () => {
    const mild = { coldestDegC: 25, warmestDegC: 25 };
    expect(verdict({ ...mild, hours: 20 })).toMatchObject({ answer: 'fits', lines: [] });
    expect(verdict({ ...mild, hours: 30 })).toMatchObject({
      answer: 'warned',
      lines: [
        '30 h from door to door is long. In a published trial pieces were safe for 20 h in bags, and with oxygen only.',
      ],
    });
    expect(verdict({ ...mild, hours: 60 }).answer).toBe('refused');
    expect(verdict({ ...mild, hours: 60, startDegC: null })).toMatchObject({
      answer: 'refused',
      range: null,
    });
  });

  test('with a kind of which nobody states a limit says so, and far from 8 L only warns', () => {
    const unstated = { ...kind, boxLow: null, boxHigh: null, keptLow: null, keptHigh: null };
    expect(verdict({}, [unstated]).lines[0]).toContain('is not known');
    expect(verdict({ litres: 2, warmestDegC: 24 }).answer).toBe('warned');
  });
});

test('the line that differs between permit and packing list is named, whatever the lots', () => {
  const permit = [
    { species: 'Acropora tenuis', pieces: 3 },
    { species: 'Euphyllia ancora', pieces: 1 },
  ];
  const packed = [
    { species: 'acropora  tenuis', pieces: 1 },
    { species: 'Acropora tenuis', pieces: 1 },
    { species: 'Montipora capricornis', pieces: 1 },
  ];
  expect(permitDifferences(permit, packed)).toEqual([
    'Acropora tenuis: 3 on the permit, 2 in the box.',
    'Euphyllia ancora: 1 piece on the permit, none in the box.',
    'Montipora capricornis: 1 piece in the box, on no permit line.',
  ]);
  expect(permitDifferences(permit, permit)).toEqual([]);
  expect(permitDifferences([], packed)).toEqual([]);
  // A document may print a name from before it was changed.
  const today = (name: string) => (name === 'Favia favus' ? 'Dipsastraea favus' : name);
  const old = [{ species: 'Favia favus', pieces: 2 }];
  const box = [{ species: 'Dipsastraea favus', pieces: 2 }];
  expect(permitDifferences(old, box, today)).toEqual([]);
  expect(permitDifferences(old, [], today)).toEqual([
    'Favia favus (today Dipsastraea favus): 2 pieces on the permit, none in the box.',
  ]);
});

test('the clock of a claim runs from the arrival by the farm’s own hours', () => {
  const arrivedAt = new Date('2026-11-24T08:00:00Z');
  const at = (hour: number) => new Date(arrivedAt.getTime() + hour * 3_600_000);
  expect(claimClock({ arrivedAt, claimHours: 12 }, at(9))).toMatchObject({
    words: '3 hours left',
    isOver: false,
  });
  expect(claimClock({ arrivedAt, claimHours: 12 }, at(14))).toMatchObject({
    words: 'over for 2 hours',
    isOver: true,
  });
  expect(claimClock({ arrivedAt: null, claimHours: 12 }, at(1))).toBeNull();
  expect(claimClock({ arrivedAt, claimHours: null }, at(1))).toBeNull();
});

describe('what was lost on the way', () => {
  const sent = (carrier: string, pieces: number, dead: number, hours: number | null = 20, month = 11) => ({
    ...{ carrier, pieces, dead, hours, month, late: false },
  });

  test('is told by carrier, hours and season with its exact interval', () => {
    // Clopper and Pearson 1934: the ends of 1 of 40 solve (1-p)^40 = 0.975 and (1-p)^40 + 40 p (1-p)^39 = 0.025, which is
    // 0.06 % and 13.16 %; the upper end of 0 of 10 is 1 - 0.025^(1/10) = 30.85 %.
    const tables = lossTables([
      sent('north  van', 20, 0),
      sent('North van', 20, 1),
      sent('Coast bus', 10, 0, 30, 1),
    ]);
    expect(tables.map(({ title }) => title)).toEqual([
      'All',
      'By carrier',
      'By hours from door to door',
      'By season',
    ]);
    const [north, coast] = tables[1]?.rows ?? [];
    expect(north).toMatchObject({
      name: 'North van',
      boxes: 2,
      pieces: 40,
      dead: 1,
      words: '2.5 % (0.1 to 13 %)',
    });
    expect(coast).toMatchObject({ isTooFew: true, words: 'Too few to say (0 to 31 %)' });
    expect(tables[3]?.rows.map(({ name }) => name)).toEqual([
      'December to February',
      'September to November',
    ]);
  });

  test('is nothing where no box is known', () => {
    expect(lossTables([])).toEqual([]);
  });
});

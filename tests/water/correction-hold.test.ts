import { describe, expect, test } from 'vitest';
import { correctionHold, metBy, type NextStep } from '../../src/water/corrections/hold.rules.ts';
import {
  omegaHold,
  saturationOf,
  type WaterChemistry,
} from '../../src/water/corrections/saturation.rules.ts';
import { cautionsOf, phOf, sideEffects } from '../../src/water/corrections/side-effects.rules.ts';
import { type Candidate, startingReading } from '../../src/water/corrections/starting-reading.rules.ts';
import { meansFor } from '../../src/water/dosing/substances.rules.ts';
import type { Quantity } from '../../src/water/quantities/quantities.ts';

const alkalinity: Quantity = {
  code: 'alkalinity',
  name: 'Alkalinity',
  position: 1,
  canonicalUnit: 'meq/L',
  displayUnit: 'meq/L',
  decimals: 2,
  plausibleLow: 1.8,
  plausibleHigh: 4.7,
  possibleLow: 0,
  possibleHigh: 20,
  source: '',
};
const at = (time: string) => new Date(`2026-11-${time}Z`);
const day = (time: string) => at(time).getTime() / 86_400_000;
const none: ReadonlySet<string> = new Set();

let ids = 0;
const reading = (time: string, value: number, more: Partial<Candidate> = {}): Candidate => ({
  id: `r${++ids}`,
  at: at(time),
  value,
  below: false,
  uncertainty: 0.03,
  kitId: null,
  methodId: 'drops',
  trust: 'plain',
  ...more,
});
const sea: WaterChemistry = {
  alkalinity: 2.7,
  calcium: 420,
  magnesium: 1300,
  salinity: 35,
  temperature: 25,
  ph: 8.1,
};

/** The second of two steps of 0.3 meq/L, the first done yesterday at nine and found as expected this morning. */
function nextOpenStep(changes: Partial<NextStep> = {}): NextStep {
  return {
    quantity: alkalinity,
    now: at('25T09:00'),
    step: { change: 0.3, retest: true, afterHours: null },
    course: {
      from: { day: day('24T07:00'), value: 2.4, u: 0.03 },
      driftPerDay: 0,
      driftSd: 0,
      relativeU: 0.05,
      saline: false,
      done: [{ day: day('24T09:00'), rise: 0.3 }],
    },
    target: 3,
    margin: 0.09,
    lastDoneAt: at('24T09:00'),
    readings: [reading('24T07:00', 2.4, { trust: 'confirmed' }), reading('25T08:00', 2.7)],
    suspectKits: none,
    disagreement: null,
    others: [],
    outside: [],
    usualPerDay: 0,
    voidedStep: false,
    water: sea,
    ...changes,
  };
}
const first = reading('24T07:00', 2.4, { trust: 'confirmed' });
const held = (changes: Partial<NextStep>) => correctionHold(nextOpenStep(changes));

describe('the next step', () => {
  test('may be done when the retest says what was expected', () => {
    expect(correctionHold(nextOpenStep())).toBeNull();
  });

  test('waits for the day to pass, whatever is read', () => {
    expect(held({ now: at('24T22:00') })).toMatchObject({ todo: 'wait' });
  });

  test('of an acute level waits for its hours, not for the day, and for the test made after the step before', () => {
    const step = { change: 0.18, retest: true, afterHours: 2 };
    const course = { ...nextOpenStep().course, done: [{ day: day('24T09:00'), rise: 0.18 }] };
    const early = held({ step, course, now: at('24T10:30'), readings: [first, reading('24T10:20', 2.58)] });
    expect(early).toMatchObject({ todo: 'wait', words: expect.stringContaining('Wait 30 minutes more') });
    expect(held({ step, course, now: at('24T11:00'), readings: [first] })).toMatchObject({ todo: 'test' });
    expect(
      held({ step, course, now: at('24T11:00'), readings: [first, reading('24T10:50', 2.58)] }),
    ).toBeNull();
  });

  test('waits for the retest asked for; one within the hour of mixing does not count', () => {
    expect(held({ readings: [first] })).toMatchObject({ todo: 'test' });
    expect(held({ readings: [first, reading('24T09:30', 2.7)] })).toMatchObject({ todo: 'test' });
    expect(held({ readings: [first], step: { change: 0.3, retest: false, afterHours: null } })).toBeNull();
  });

  test('asks for nothing but a second test while one waits, however far off it is', () => {
    const unconfirmed = held({ readings: [first, reading('25T08:00', 4.5, { trust: 'unconfirmed' })] });
    expect(unconfirmed?.todo).toBe('test');
    expect(unconfirmed?.words).toBe('Test alkalinity again: 4.50 meq/L waits for a second reading.');
  });

  test('is revised only once a second test agrees that it departs', () => {
    const once = [first, reading('25T08:00', 3.3)];
    expect(held({ readings: once })).toMatchObject({ todo: 'test' });
    expect(held({ readings: [...once, reading('25T08:20', 3.32)] })).toMatchObject({ todo: 'revise' });
    expect(held({ readings: [first, reading('25T08:00', 2.2), reading('25T08:20', 2.2)] })?.words).toContain(
      'lower',
    );
  });

  test('does not rest on a kit that is said to read wrong', () => {
    const kit = { kitId: 'old' };
    const readings = [first, reading('25T08:00', 2.7, kit), reading('25T08:20', 2.7, kit)];
    expect(held({ readings, suspectKits: new Set(['old']) })?.words).toContain('another kit or method');
  });

  test('waits while something else moves the same quantity, until a test has seen it', () => {
    expect(held({ others: ['calcium by saturated limewater'] })?.words).toContain('Stop one of the two');
    const dose = { at: at('25T08:30'), moves: 0.4, words: 'A dose of 20 g soda' };
    expect(held({ outside: [dose] })?.words).toContain('outside of this correction');
    expect(held({ outside: [{ ...dose, at: at('25T07:00') }] })).toBeNull();
    expect(held({ outside: [{ ...dose, moves: 0.05 }] })).toBeNull();
  });

  test('waits for a test when the last one is old, or a recorded step was voided', () => {
    expect(held({ now: at('29T09:00') })?.words).toContain('more than 3 days old');
    expect(held({ voidedStep: true })).toMatchObject({ todo: 'revise' });
  });

  test('does not carry the level past its target', () => {
    const wide = { uncertainty: 0.03 };
    const readings = [first, reading('25T08:00', 2.85, wide)];
    expect(held({ readings, target: 2.95 })?.words).toContain('past the target');
  });

  test('is held where calcium, alkalinity and magnesium together pass what stays dissolved', () => {
    const rich = { ...sea, alkalinity: 3.9, calcium: 520, ph: 8.4 };
    expect(held({ water: rich })?.words).toContain('Moras et al. 2022');
  });
});

describe('a correction is met', () => {
  const base = { ...nextOpenStep(), fromValue: 2.4, fromAt: at('24T07:00') };
  const readings = (value: number, trust: Candidate['trust'] = 'plain') => [
    first,
    reading('25T08:00', value, { trust }),
  ];

  test('outright before its last step, near enough after it', () => {
    expect(metBy({ ...base, readings: readings(2.95), waitForAll: false })).toBeNull();
    expect(metBy({ ...base, readings: readings(3.02), waitForAll: false })).not.toBeNull();
    expect(metBy({ ...base, readings: readings(2.95), waitForAll: true })).not.toBeNull();
    expect(metBy({ ...base, readings: readings(2.7), waitForAll: true })).toBeNull();
  });

  test('never by a test that waits for another, nor by one far past the target', () => {
    expect(metBy({ ...base, readings: readings(3, 'unconfirmed'), waitForAll: true })).toBeNull();
    expect(metBy({ ...base, readings: readings(3.6), waitForAll: false })).toBeNull();
  });
});

describe('a reading', () => {
  test('is confirmed by its own trust or by a second one that agrees within two days', () => {
    const now = at('25T09:00');
    const kinds = (...readings: Candidate[]) => startingReading(readings, none, now).kind;
    expect(kinds()).toBe('none');
    expect(kinds(reading('25T08:00', 2.7))).toBe('single');
    expect(kinds(reading('24T08:00', 2.68), reading('25T08:00', 2.7))).toBe('confirmed');
    expect(kinds(reading('22T08:00', 2.7), reading('25T08:00', 2.7))).toBe('single');
    expect(kinds(reading('24T08:00', 2.4), reading('25T08:00', 2.7))).toBe('single');
    expect(kinds(reading('20T08:00', 2.7), reading('21T08:00', 2.7))).toBe('old');
    expect(kinds(reading('25T07:00', 2.7), reading('25T08:00', 2.7, { trust: 'refuted' }))).toBe('single');
  });
});

// Moras et al. 2022, Biogeosciences 19, 3537: no precipitation at an aragonite saturation of about 5, runaway above 7.
describe('what stands in the water together', () => {
  test('passes in ordinary culture water, and not where all three are high', () => {
    expect(saturationOf(sea)).toMatchObject({ passes: false, assumed: [] });
    const found = saturationOf({ ...sea, alkalinity: 4.3, calcium: 500, ph: 8.3 });
    expect(found?.omega).toBeGreaterThan(omegaHold);
    expect(found?.passes).toBe(true);
  });

  test('is bounded lower where magnesium is short, and says what was taken for granted', () => {
    const water = { ...sea, alkalinity: 3.2, calcium: 450, ph: 8.2 };
    expect(saturationOf(water)?.passes).toBe(false);
    expect(saturationOf({ ...water, magnesium: 1000 })?.passes).toBe(true);
    expect(saturationOf({ ...sea, ph: null, calcium: null })?.assumed).toEqual([
      'pH 8.3',
      'calcium as in the sea',
    ]);
    expect(saturationOf({ ...sea, alkalinity: null })).toBeNull();
  });
});

describe('cautions and side effects', () => {
  test('name eyes, gloves and the label beside every means, heat and lime where they are', () => {
    for (const code of new Set(Object.values(meansFor).flat())) {
      const words = cautionsOf(code).join(' ');
      expect(words).toContain('Gloves and eye protection');
      expect(words).toContain('label of the product and local rules');
    }
    expect(cautionsOf('saturated-limewater').join(' ')).toContain('caustic');
    expect(cautionsOf('calcium-chloride').join(' ')).toContain('heat');
    expect(cautionsOf('sodium-bicarbonate').join(' ')).toContain('Never mix calcium with carbonate');
  });

  // Carbonate chemistry: hydroxide lifts the pH about twice as much as carbonate, bicarbonate hardly moves it.
  test('tell how far each source of alkalinity lifts the pH', () => {
    const phWith = (code: 'sodium-bicarbonate' | 'sodium-carbonate' | 'saturated-limewater') =>
      phOf({ code, water: sea, largest: 0.3 })?.after ?? Number.NaN;
    expect(phWith('sodium-bicarbonate')).toBeLessThan(8.1);
    expect(phWith('sodium-carbonate')).toBeGreaterThan(8.2);
    expect(phWith('saturated-limewater')).toBeGreaterThan(phWith('sodium-carbonate'));
  });

  // Stoichiometry: 1 mg of magnesium comes with 3.95 mg of sulphate; 100 g of the heptahydrate hold 39.0 g of it.
  test('tell the sulphate that comes with magnesium sulphate', () => {
    const effects = sideEffects({
      code: 'magnesium-sulphate-heptahydrate',
      quantity: 'magnesium',
      volumeL: 1000,
      grams: 100,
      change: 9.86,
      largest: 9.86,
      water: sea,
    });
    expect(effects.join(' ')).toContain('raises sulphate by 39 mg/L');
  });
});

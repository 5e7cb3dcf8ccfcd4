import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { afterExchange, afterWaterChange, mixWaters } from '../../../src/science/dilution.ts';
import { published } from '../../support/published.ts';

const alligation = published(
  'mixing two waters',
  'rule of alligation: 2 parts of 60 and 1 of 30 make 50',
  1e-12,
);

const water = fc.record({
  volumeL: fc.double({ min: 0.1, max: 1000, noNaN: true }),
  concentrations: fc.record({
    calcium: fc.double({ min: 0, max: 600, noNaN: true }),
    nitrate: fc.double({ min: 0, max: 50, noNaN: true }),
  }),
});

describe('a mixture of waters', () => {
  it('holds the volume-weighted mean of each quantity', () => {
    const mixed = mixWaters([
      { volumeL: 2, concentrations: { nitrate: 60, calcium: 420 } },
      { volumeL: 1, concentrations: { nitrate: 30, calcium: 450 } },
    ]);
    alligation.check(mixed.concentrations.nitrate ?? Number.NaN, 50);
    alligation.check(mixed.concentrations.calcium ?? Number.NaN, 430);
    alligation.check(mixed.volumeL, 3);
  });

  it('keeps every milligram', () => {
    fc.assert(
      fc.property(fc.array(water, { minLength: 1, maxLength: 6 }), (waters) => {
        const mixed = mixWaters(waters);
        for (const code of ['calcium', 'nitrate'] as const) {
          const put = waters.reduce((sum, part) => sum + part.volumeL * part.concentrations[code], 0);
          expect(mixed.volumeL * (mixed.concentrations[code] ?? Number.NaN)).toBeCloseTo(put, 4);
        }
      }),
    );
  });

  it('says nothing of a quantity that is unknown in one part', () => {
    const mixed = mixWaters([
      { volumeL: 1, concentrations: { nitrate: 60, calcium: 420 } },
      { volumeL: 1, concentrations: { calcium: 450 } },
    ]);
    expect(mixed.concentrations).toEqual({ calcium: 435 });
  });

  it('has no pH in proportion, and no content without volume', () => {
    const part = { volumeL: 1, concentrations: { ph: 8.1 } };
    expect(() => mixWaters([part, part])).toThrow('ph does not mix in proportion to volume');
    expect(() => mixWaters([])).toThrow('volume of the mixture 0 L must be above 0');
    expect(() => mixWaters([{ volumeL: 1, concentrations: { calcium: Number.NaN } }])).toThrow(RangeError);
  });
});

describe('an exchange against make-up water of another composition', () => {
  it('moves every quantity at once as a single change would', () => {
    const system = { alkalinity: 2.8, calcium: 420, magnesium: 1300, nitrate: 12 };
    const makeUp = { alkalinity: 4.3, calcium: 440, magnesium: 1350, nitrate: 0 };
    const after = afterExchange(system, makeUp, 0.2);
    for (const code of Object.keys(system) as (keyof typeof system)[]) {
      expect(after[code]).toBeCloseTo(afterWaterChange(system[code], makeUp[code], 0.2), 10);
    }
    expect(afterExchange(system, makeUp, 0)).toEqual(system);
    expect(afterExchange(system, makeUp, 1)).toEqual(makeUp);
  });
});

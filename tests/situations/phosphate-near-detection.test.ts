import { describe, expect, test } from 'vitest';
import { methods, quantities } from '../../seed/library.ts';
import { parseEntry } from '../../src/water/entry/entry.rules.ts';
import type { Quantity } from '../../src/water/quantities/quantities.ts';
import { agree } from '../../src/water/trust/agreement.rules.ts';
import { coverageInterval, resolutionCaution } from '../../src/water/trust/trust.rules.ts';

// B06, a forum thread: 5 and 11 ppb P side by side, 0.015 and 0.034 mg/L PO4; at 7 ppb the true value may be 1 to 13 ppb,
// 0.003 to 0.040 mg/L PO4.

const phosphate = quantities().find(({ code }) => code === 'phosphate') as Quantity;
const band = { low: 0.01, high: 0.035 };

/** A colorimeter that scatters by 6 ppb P, two standard uncertainties, and sees 1 ppb. */
const fine = { absolute: (3 * 3.0662) / 1000, relative: 0, detectionLimit: 0.003 };
const readPpb = (text: string, method = fine) => {
  const found = parseEntry({ quantityCode: 'phosphate', text, unit: 'ug/L P' }, phosphate, method);
  if (!found.ok || found.reading === null) throw new Error('not read');
  return found.reading;
};
const measured = (text: string) => ({ ...readPpb(text), at: new Date(0), kitId: null, methodId: null });

describe('5 ppb or 11 ppb phosphorus', () => {
  test('are one and the same reading to this test', () => {
    expect(readPpb('5').value).toBeCloseTo(0.0153, 4);
    expect(readPpb('11').value).toBeCloseTo(0.0337, 4);
    expect(agree(measured('5'), measured('11'))).toBe(true);
  });

  test('a reading of 7 ppb is shown with its interval, and cannot tell low from high', () => {
    const { low, high } = coverageInterval(phosphate, readPpb('7'));
    expect(low).toBeCloseTo(0.003, 3);
    expect(high).toBeCloseTo(0.04, 3);
    const words = resolutionCaution(phosphate, readPpb('7'), band);
    expect(words).toContain(
      'cannot tell low from high here: 0.021 mg/L as PO₄ may be anything from 0.003 to 0.040 mg/L as PO₄',
    );
    expect(words).toContain(
      'Take the mean of three tests, or wait for the trend; neither add nor remove anything on it.',
    );
  });

  test('a reading that can tell says nothing of the kind, nor does one where nothing is kept', () => {
    expect(resolutionCaution(phosphate, readPpb('40'), band)).toBeNull();
    expect(resolutionCaution(phosphate, readPpb('7'), { low: null, high: 0.035 })).toBeNull();
  });

  test('the photometer every farm starts with says of itself that it cannot', () => {
    const photometer = methods().find((one) => one.quantityCode === 'phosphate' && one.isDefault);
    const method = {
      detectionLimit: null,
      ...photometer,
      absolute: photometer?.absolute ?? 0,
      relative: photometer?.relative ?? 0,
    };
    expect(resolutionCaution(phosphate, readPpb('7', method as typeof fine), band)).not.toBeNull();
  });
});

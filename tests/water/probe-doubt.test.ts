import { describe, expect, test } from 'vitest';
import { quantities } from '../../seed/library.ts';
import { type ProbeTrace, probeDoubt } from '../../src/water/trust/probe-doubt.rules.ts';

// What a scale shows is rounded to its divisions (rectangular distribution: JCGM 100:2008, 4.3.7). Levels are invented.

const today = 20_000;
const of = (code: string) => {
  const quantity = quantities().find((one) => one.code === code);
  if (quantity === undefined) throw new Error(code);
  return { ...quantity, displayUnit: quantity.canonicalUnit };
};

/** Read off by a person twice a day, the last value now. */
function readOff(code: string, values: readonly number[], selfReporting = false) {
  const samples = values.map((value, i) => ({ day: today - (values.length - 1 - i) / 2, value }));
  const trace: ProbeTrace = {
    ...{ code, methodId: 'method', kitId: null, label: 'probe', selfReporting, u: 0.1 },
    ...{ samples, checks: [], openedDay: null, expiresDay: null },
  };
  return probeDoubt(trace, [], of(code), today)?.kind ?? null;
}
const times = (count: number, value: number) => Array.from({ length: count }, () => value);

describe('a value that people read off and that stays the same', () => {
  test('says nothing of a thermometer with marks at half degrees, however long', () => {
    expect(readOff('temperature', times(20, 25.5))).toBeNull();
    expect(readOff('temperature', [25, 25.5, 25, ...times(17, 25.5)])).toBeNull();
  });

  test('is stuck at tenths only where it is no accident any more', () => {
    const moved = [25.2, 24.9, 25.3, 25.1];
    expect(readOff('temperature', [...moved, ...times(10, 25.2)])).toBeNull();
    expect(readOff('temperature', [...moved, ...times(21, 25.2)])).toBe('flat');
  });

  test('is stuck soon where it is read to hundredths', () => {
    expect(readOff('ph', [8.17, 8.22, ...times(8, 8.41)])).toBe('flat');
    expect(readOff('ph', [8.2, 8.3, ...times(8, 8.2)])).toBeNull();
  });

  test('is judged as before where a probe sends it', () => {
    expect(readOff('temperature', [25, 25.5, ...times(8, 25.5)], true)).toBe('flat');
  });
});

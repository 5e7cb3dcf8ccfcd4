import type { DoubtedSource, ReadingFact } from './types.ts';

/** Whether a reading was shown by a probe that had no vote then. */
export const isDoubted = (
  code: string,
  { probe, methodId = null, kitId, day }: Pick<ReadingFact, 'probe' | 'methodId' | 'kitId' | 'day'>,
  doubted: readonly DoubtedSource[],
): boolean =>
  probe === true &&
  doubted.some(
    (one) => one.code === code && one.methodId === methodId && one.kitId === kitId && day >= one.sinceDay,
  );

/** The readings of a quantity without what probes showed that had no vote; the same list where there are none. */
export function withoutDoubted(
  code: string,
  readings: readonly ReadingFact[],
  doubted: readonly DoubtedSource[],
): readonly ReadingFact[] {
  if (!doubted.some((one) => one.code === code)) return readings;
  return readings.filter((reading) => !isDoubted(code, reading, doubted));
}

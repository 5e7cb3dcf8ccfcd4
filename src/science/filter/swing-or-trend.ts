import { type SwingOptions, type SwingStep, varianceEvidence } from './swing.ts';

/** Days by whose own spread a swing is judged anew; and fewest tests in them. Own choice. */
export const latelyDays = 14;
const fewest = 5;

/** What the last two weeks say by themselves. */
export interface Lately {
  /** Evidence that they swing twice as much as usual about the own mean, as a log likelihood ratio. */
  swing: number;
  /** The same about their own straight line: what is left once a fall or rise is taken out. */
  aboutLine: number;
  /** Change a day by that line, in the readings' unit, and its standard error. */
  slope: number;
  slopeSd: number;
  days: number;
}

/** The evidence of one step alone. */
export const stepEvidence = ({ z, ratio, reading }: SwingStep, { cut, confirmedCut }: SwingOptions): number =>
  varianceEvidence(z, ratio, reading.confirmed ? confirmedCut : cut);

/**
 * Tells a swing from a level that falls or rises: the spread of the last two weeks about their own least squares line, where two
 * degrees of freedom went into the line. Null with fewer than five tests.
 */
export function judgeLately(steps: readonly SwingStep[], options: SwingOptions): Lately | null {
  const last = steps.at(-1);
  const recent = last === undefined ? [] : steps.filter(({ day }) => day > last.day - latelyDays);
  const count = recent.length;
  if (last === undefined || count < fewest) return null;
  const dayOf = recent.reduce((sum, { day }) => sum + day, 0) / count;
  const mean = recent.reduce((sum, { reading }) => sum + reading.value, 0) / count;
  const square = recent.reduce((sum, { day }) => sum + (day - dayOf) ** 2, 0);
  if (square === 0) return null;
  const cross = recent.reduce((sum, { day, reading }) => sum + (day - dayOf) * (reading.value - mean), 0);
  const slope = cross / square;
  const grown = Math.sqrt(count / (count - 2));
  const aboutLine = recent.map((step) => {
    const off = step.reading.value - mean - slope * (step.day - dayOf);
    return stepEvidence({ ...step, z: (grown * off) / step.usualSd }, options);
  });
  return {
    swing: recent.reduce((sum, step) => sum + stepEvidence(step, options), 0),
    aboutLine: aboutLine.reduce((sum, one) => sum + one, 0),
    slope,
    slopeSd: last.usualSd / Math.sqrt(square),
    days: last.day - (recent[0]?.day ?? last.day),
  };
}

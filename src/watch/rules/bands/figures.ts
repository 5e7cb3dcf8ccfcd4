import type { Severity } from '../../../alerts/finding.ts';
import { convertDifference } from '../../../science/units/convert.ts';

/** What a band's rule has to know of one quantity, in canonical units. */
export interface BandFigures {
  /** SD of the water's usual short swing, the least that the filter takes it for. */
  swing: number;
  /** So far beyond the edge it is grave. */
  far: number;
  /** How urgent it is outside, and far outside. */
  outside: Severity;
  grave: Severity;
}

const dkh = (value: number) => convertDifference('alkalinity', value, 'dKH', 'meq/L');

/**
 * Alkalinity: swing of the simulation study, 1 dKH as the most that growers change in a day (how-to articles); calcium and
 * magnesium: two days of what is commonly changed in one; salinity: 2 a day in holding tanks; temperature: stress from
 * 1 degC above the usual summer (government satellite products); the rest own choice.
 */
const known: Readonly<Record<string, BandFigures>> = {
  alkalinity: { swing: dkh(0.12), far: dkh(1), outside: 'today', grave: 'now' },
  calcium: { swing: 3, far: 50, outside: 'today', grave: 'now' },
  magnesium: { swing: 8, far: 150, outside: 'watch', grave: 'today' },
  salinity: { swing: 0.1, far: 2, outside: 'today', grave: 'now' },
  temperature: { swing: 0.15, far: 1, outside: 'today', grave: 'now' },
  ph: { swing: 0.04, far: 0.3, outside: 'watch', grave: 'today' },
};

const otherSwing = 0.03;
const otherFar = 0.5;

/** The figures of a quantity; for one without its own, parts of the edge beyond which it stands. */
export function bandFigures(code: string, edge: number): BandFigures {
  const size = Math.max(Math.abs(edge), 1e-6);
  return known[code] ?? { swing: otherSwing * size, far: otherFar * size, outside: 'watch', grave: 'today' };
}

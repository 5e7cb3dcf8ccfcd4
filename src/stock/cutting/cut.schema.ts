import { optionalPieceSize } from '../../platform/web/fields/measures.ts';
import { optionalNumber, optionalText } from '../../platform/web/fields.ts';

/** How a cut was made, as forms and JSON bring it. */
export const cutHow = {
  method: optionalText(100),
  tool: optionalText(100),
  cutBy: optionalText(100),
  minutesOut: optionalNumber({ what: 'the minutes out of the water', low: 0, high: 1440, unit: 'min' }),
  dip: optionalText(100),
  sizeMm: optionalPieceSize(),
};

/** The same while nothing is entered. */
export const freshCutHow = { method: '', tool: '', cutBy: '', minutesOut: '', dip: '', sizeMm: '' };

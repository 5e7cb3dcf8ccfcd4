import type { QuantityCode } from '../../science/units/quantities.ts';

/** Which parts a figure has. */
type FigureParts = 'range' | 'high' | 'flow' | 'words';

/** One figure of care: its label, which parts it has, its canonical unit and the values it can have. */
export interface FigureSpec {
  readonly label: string;
  readonly parts: FigureParts;
  readonly unit: string;
  /** The water quantity it is a band of: shown and typed in the farm's own unit. */
  readonly quantity?: QuantityCode;
  readonly least: number;
  readonly most: number;
  readonly decimals: number;
  readonly hint?: string;
}

const spec = (
  label: string,
  parts: FigureParts,
  unit = '',
  [least, most, decimals]: readonly [number, number, number] = [0, 0, 0],
  more: Pick<FigureSpec, 'quantity' | 'hint'> = {},
): FigureSpec => ({ label, parts, unit, least, most, decimals, ...more });

const band = (label: string, quantity: QuantityCode): FigureSpec =>
  spec(label, 'range', '', undefined, { quantity });

/** Every figure by the name under which it is stored, in the order in which it is shown. */
export const FIGURES = {
  caution: spec('Caution', 'words'),
  par_range: spec('Light that suits', 'range', 'µmol/(m² s)', [1, 2000, 0]),
  par_ceiling: spec('Light never above', 'high', 'µmol/(m² s)', [1, 2000, 0]),
  step_ratio: spec('Largest step of light', 'high', 'times', [1.01, 3, 2], {
    hint: 'Light after a step, over the light it is accustomed to.',
  }),
  adaptation_days: spec('Adapts to light with a time constant of', 'high', 'days', [0.1, 365, 0]),
  dwell_days: spec('Stays on each step of light', 'high', 'days', [0.1, 365, 0]),
  flow: spec('Flow', 'flow', '', [0, 3, 0]),
  jet: spec('A jet on it', 'words'),
  base: spec('Sits on', 'words'),
  feeding_every_days: spec('Fed at least every', 'high', 'days', [0.1, 365, 0]),
  feeding: spec('Food', 'words'),
  reach_mm: spec('Reaches its neighbours over', 'high', 'mm', [0, 1000, 0]),
  growth_mm_year: spec('Grows', 'range', 'mm a year', [0, 1000, 0]),
  heal_days: spec('Given to heal after a cut', 'high', 'days', [0, 365, 0]),
  piece_size_mm: spec('Cut into pieces no smaller than', 'high', 'mm', [0, 500, 0]),
  sale_size_mm: spec('Sold from a size of', 'high', 'mm', [0, 2000, 0]),
  quarantine_days: spec('Kept back after it came from elsewhere', 'high', 'days', [0, 365, 0]),
  alkalinity: band('Alkalinity', 'alkalinity'),
  calcium: band('Calcium', 'calcium'),
  magnesium: band('Magnesium', 'magnesium'),
  nitrate: band('Nitrate', 'nitrate'),
  phosphate: band('Phosphate', 'phosphate'),
  salinity: band('Salinity', 'salinity'),
  temperature: band('Temperature', 'temperature'),
  box_temperature: band('Water in a box on the way', 'temperature'),
} as const satisfies Record<string, FigureSpec>;

export type FigureName = keyof typeof FIGURES;

export const FIGURE_NAMES = Object.keys(FIGURES) as [FigureName, ...FigureName[]];

export function isFigure(name: string): name is FigureName {
  return Object.hasOwn(FIGURES, name);
}

/** Flow classes as the `flow` figure counts them. */
export const FLOW_WORDS = ['still', 'low', 'medium', 'high'] as const;

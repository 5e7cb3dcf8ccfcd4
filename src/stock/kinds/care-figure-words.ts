import type pg from 'pg';
import type { FigureBasis } from '../../generated/prisma/enums.ts';
import type { DisplayQuantity } from '../../platform/units/quantity-words.ts';
import { displayNow } from '../../platform/units/reader-quantities.ts';
import { unitsNow } from '../../platform/units/units.ts';
import { capitalized } from '../../platform/words/capitals.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { canonicalUnit, convert, convertMeasure, unitName } from '../../science/units.ts';
import type { Care, CareValue } from './care.ts';
import { FIGURE_NAMES, FIGURES, type FigureName, type FigureSpec, FLOW_WORDS } from './care-figures.ts';

/** The unit and the decimals in which the farm shows each water quantity. */
export type FarmUnits = ReadonlyMap<string, { unit: string; decimals: number }>;

/** The farm's unit and decimals of every quantity. One query. */
export async function farmUnits(pool: pg.Pool): Promise<FarmUnits> {
  const { rows } = await pool.query<DisplayQuantity>(
    'SELECT code, canonical_unit AS "canonicalUnit", display_unit AS "displayUnit", decimals FROM quantity',
  );
  return new Map(
    rows.map(displayNow).map(({ code, displayUnit, decimals }) => [code, { unit: displayUnit, decimals }]),
  );
}

/** How one figure is shown and typed on this farm. */
export interface FigureFormat {
  unit: string;
  decimals: number;
  toFarm(canonical: number): number;
  toCanonical(inFarmUnit: number): number;
}

const unchanged = (value: number) => value;

/** The unit a figure is shown and typed in. */
export function figureFormat(spec: FigureSpec, units: FarmUnits): FigureFormat {
  const { quantity } = spec;
  const farm = quantity === undefined ? undefined : units.get(quantity);
  if (spec.unit.startsWith('mm') && unitsNow().length === 'in') {
    return {
      unit: spec.unit.replace('mm', 'in'),
      decimals: 1,
      toFarm: (mm) => convertMeasure('length', mm, 'mm', 'in'),
      toCanonical: (inches) => convertMeasure('length', inches, 'in', 'mm'),
    };
  }
  if (quantity === undefined || farm === undefined) {
    return { unit: spec.unit, decimals: spec.decimals, toFarm: unchanged, toCanonical: unchanged };
  }
  const canonical = canonicalUnit(quantity);
  return {
    unit: unitName(quantity, farm.unit),
    decimals: farm.decimals,
    toFarm: (value) => convert(quantity, value, canonical, farm.unit),
    toCanonical: (value) => convert(quantity, value, farm.unit, canonical),
  };
}

/** With the figure's decimals, trailing zeros left out. */
function formatNumber(value: number, decimals: number): string {
  return numberWords(Number(value.toFixed(Math.max(decimals, Number.isInteger(value) ? 0 : 1))));
}

function flowWords(low: number | null, high: number | null): string {
  const [from, to] = [FLOW_WORDS[low ?? 0] ?? 'still', FLOW_WORDS[high ?? 3] ?? 'high'];
  return from === to ? from : `${from} to ${to}`;
}

/** A figure in words: "7.5 to 9 dKH", "at most 250 µmol/(m² s)", "low to high", or its own words. */
export function figureWords(name: FigureName, value: CareValue, units: FarmUnits): string {
  const spec: FigureSpec = FIGURES[name];
  if (spec.parts === 'words') return value.words ?? '';
  if (spec.parts === 'flow') return flowWords(value.low, value.high);
  const writing = figureFormat(spec, units);
  const shown = (canonical: number) => formatNumber(writing.toFarm(canonical), writing.decimals);
  const ends = [value.low, value.high].filter((end) => end !== null).map(shown);
  return `${ends.join(' to ')} ${writing.unit}`.trim();
}

export const BASIS_WORDS: Readonly<Record<FigureBasis, string>> = {
  published: 'Published',
  computed: 'Computed',
  common_practice: 'Common practice',
  from_memory: 'From memory',
  own_choice: 'This farm’s own choice',
};

/** One line of a care table. */
export interface CareLine {
  figure: FigureName;
  label: string;
  text: string;
  basis: string;
  source: string;
  from: CareValue['from'];
}

/** A care as lines of a table, in the order of the figures. */
export function careLines(care: Care, units: FarmUnits): CareLine[] {
  return FIGURE_NAMES.flatMap((figure) => {
    const value = care[figure];
    if (value === undefined) return [];
    const { basis, source, from } = value;
    const text = figureWords(figure, value, units);
    const { label } = FIGURES[figure];
    return [{ figure, label, text, basis: BASIS_WORDS[basis], source: capitalized(source), from }];
  });
}

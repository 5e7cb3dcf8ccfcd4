import { numberWords } from '../../platform/words/numbers.ts';
import { isOver, type LotBeneath, times } from './lamp-effect.rules.ts';

/** A lot beneath lamps with its name, its place and the light its kind is kept at, umol/(m2 s). */
export interface NamedBeneath extends LotBeneath {
  code: string;
  kind: string;
  place: string;
  parLow: number | null;
}

/** What a turn does to one lot, as a row of a table. */
export interface TurnRow {
  code: string;
  kind: string;
  place: string;
  /** umol/(m2 s); "" where its light was never measured. */
  from: string;
  to: string;
  /** Of the daily light it is used to: "1.3 times"; "" where that is not known. */
  ofUsed: string;
  /** What speaks against it; "" where nothing does. */
  against: string;
  /** True where it may burn. */
  grave: boolean;
}

const par = (light: { par: number } | null) => (light === null ? '' : numberWords(Math.round(light.par)));

/** Every lot beneath and what a turn does to it: first those it harms, the largest step first. */
export function turnRows(lots: readonly NamedBeneath[]): TurnRow[] {
  const weight = (lot: NamedBeneath) => (aboveCeiling(lot) ? 1e6 : 0) + (stepOf(lot) ?? 0);
  return [...lots].sort((a, b) => weight(b) - weight(a) || a.code.localeCompare(b.code)).map(rowOf);
}

function rowOf(lot: NamedBeneath): TurnRow {
  const { code, kind, place, now, after } = lot;
  const step = stepOf(lot);
  const ofUsed = step === null ? '' : times(step);
  const grave = aboveCeiling(lot) || isOver(lot);
  return { code, kind, place, from: par(now), to: par(after), ofUsed, against: againstWords(lot), grave };
}

const stepOf = ({ after, accustomed }: LotBeneath) =>
  after === null || accustomed === null || accustomed === 0 ? null : after.dli / accustomed;

const aboveCeiling = ({ after, parCeiling }: LotBeneath) =>
  after !== null && parCeiling !== null && after.parMax > parCeiling;

function againstWords(lot: NamedBeneath): string {
  const { after, stepRatio, parCeiling, parLow } = lot;
  if (after === null) return 'its light was never measured';
  if (aboveCeiling(lot)) return `above the ${numberWords(parCeiling ?? 0)} its kind bears at all`;
  if (isOver(lot)) return `its kind takes ${numberWords(stepRatio ?? 1)} times in one step`;
  if (parLow !== null && after.par < parLow)
    return `less than the ${numberWords(parLow)} its kind is kept at`;
  return '';
}

import { numberWords } from '../../platform/words/numbers.ts';
import { exceedsStep, type LitLot, timesText } from './lamp-effect.rules.ts';

/** A lot under lamps with its code, kind and place, and the lowest light its kind is kept at, umol/(m2 s). */
export interface NamedLot extends LitLot {
  code: string;
  kind: string;
  place: string;
  parLow: number | null;
}

/** What a new setting does to one lot, as a row of a table. */
export interface LampEffectRow {
  code: string;
  kind: string;
  place: string;
  /** umol/(m2 s); "" where its light was never measured. */
  from: string;
  to: string;
  /** The new daily light against the one it is used to: "1.3 times"; "not known yet", or "" where its light is not known. */
  ofUsed: string;
  /** Why the new setting does not suit it; "" where it does. */
  against: string;
  /** True where it may bleach. */
  grave: boolean;
}

const par = (light: { par: number } | null) => (light === null ? '' : numberWords(Math.round(light.par)));

/** Every lot under the lamps: those above their ceiling first, then by the size of the step. */
export function lampEffectRows(lots: readonly NamedLot[]): LampEffectRow[] {
  const urgency = (lot: NamedLot) => (exceedsCeiling(lot) ? 1e6 : 0) + (stepRatioOf(lot) ?? 0);
  return [...lots].sort((a, b) => urgency(b) - urgency(a) || a.code.localeCompare(b.code)).map(rowOf);
}

function rowOf(lot: NamedLot): LampEffectRow {
  const { code, kind, place, now, after } = lot;
  const step = stepRatioOf(lot);
  const ofUsed = step === null ? '' : lot.isAccustomed ? timesText(step) : 'not known yet';
  const grave = exceedsCeiling(lot) || exceedsStep(lot);
  return { code, kind, place, from: par(now), to: par(after), ofUsed, against: objection(lot), grave };
}

const stepRatioOf = ({ after, accustomed }: LitLot) =>
  after === null || accustomed === null || accustomed === 0 ? null : after.dli / accustomed;

const exceedsCeiling = ({ after, parCeiling }: LitLot) =>
  after !== null && parCeiling !== null && after.parMax > parCeiling;

function objection(lot: NamedLot): string {
  const { after, stepRatio, parCeiling, parLow } = lot;
  if (after === null) return 'its light was never measured';
  if (exceedsCeiling(lot)) return `above ${numberWords(parCeiling ?? 0)}, the most its kind can take`;
  if (exceedsStep(lot))
    return `its kind takes ${numberWords(stepRatio ?? 1)} times in one step${lot.isAccustomed ? '' : ', and this is more than that of the light measured so far'}`;
  if (parLow !== null && after.par < parLow)
    return `less than the ${numberWords(parLow)} its kind is kept at`;
  return '';
}

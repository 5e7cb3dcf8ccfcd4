import type { EquipmentKind } from '../../generated/prisma/client.ts';
import { fixed, stepWords } from '../../platform/units/everyday.ts';
import { litres } from '../../platform/units/measures.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import {
  salinityAfterEvaporation,
  salinityAfterFreshWater,
  salinityAfterOverflow,
} from '../../science/dilution.ts';
import {
  DAILY_CAPS,
  limeWords,
  phAfterAlkalinityDose,
  type SubstanceCode,
  saturatedLimewater,
} from '../../science/dosing.ts';
import { worstRise } from './reservoir.rules.ts';

/** What the books say of an automatic source. Strength in the canonical unit of `strengthCode`, a litre of the solution. */
interface Source {
  kind: EquipmentKind;
  reservoirL: number | null;
  useLPerDay: number | null;
  holds: string;
  strengthCode: string | null;
  strength: number | null;
}

/** What a source does if its whole container runs into the system at once: a sentence each. */
export interface WorstCase {
  says: string[];
  /** It passes the cap of a day. */
  isOver: boolean;
}

/** The water it is reckoned for: 8 dKH, pH 8.2 (total scale), salinity 35, 25 degC; own choice, a usual day. */
const usualWater = { alkalinityUmolKg: 2789, salinity: 35, temperatureDegC: 25 };
const usualPh = 8.2;
/** 1 meq/L of seawater at S 35 and 25 degC (1.0233 kg/L), in umol/kg. */
const umolKgPerMeqL = 1000 / 1.0233;

const words = { alkalinity: 'alkalinity', calcium: 'calcium', magnesium: 'magnesium' } as const;

/**
 * The worst case of an automatic source: a pump that does not stop, or a float that stays open, empties its container.
 * Mass balance; the pH before carbon dioxide of the air answers. What is not known is said; null for what is no source.
 */
export function worstCase(source: Source, volumeL: number): WorstCase | null {
  const { reservoirL, kind, holds } = source;
  if (!(kind === 'doser' || kind === 'top_up' || kind === 'reactor')) return null;
  const strength = strengthOf(source);
  const rise = strength === null || reservoirL === null ? null : riseOf(strength, reservoirL, volumeL, holds);
  const water = kind === 'top_up' ? [topUpOpen(reservoirL, volumeL), topUpStopped(source, volumeL)] : [];
  const parts = [rise, ...water].filter((part) => part !== null);
  const unknown = kind === 'top_up' || rise !== null ? [] : [missingWords(source)];
  return {
    says: [...parts.flatMap(({ says }) => says), ...unknown],
    isOver: parts.some(({ isOver }) => isOver),
  };
}

function missingWords({ reservoirL, strength, strengthCode }: Source): string {
  const missing = [
    reservoirL === null ? 'what its container holds' : '',
    strength === null || strengthCode === null ? 'how much of what a litre holds' : '',
  ].filter((part) => part !== '');
  const what =
    missing.length === 0 ? 'a strength of alkalinity, calcium or magnesium' : missing.join(' and ');
  return `Not known: enter ${what}.`;
}

/** As stated, else saturated limewater where it says that it holds limewater (42.9 meq/L at 25 degC). */
function strengthOf({ strength, strengthCode, holds }: Source): { code: string; perL: number } | null {
  if (strength !== null && strengthCode !== null) return { code: strengthCode, perL: strength };
  if (!limeWords.test(holds)) return null;
  return { code: 'alkalinity', perL: (saturatedLimewater(25).perMl.alkalinity ?? 0) * 1000 };
}

function riseOf(
  { code, perL }: { code: string; perL: number },
  reservoirL: number,
  volumeL: number,
  holds: string,
): WorstCase | null {
  const rise = worstRise({ reservoirL, strength: perL }, volumeL);
  if (rise === null || !(code in words)) return null;
  const known = code as keyof typeof words;
  const cap = DAILY_CAPS[known];
  const said = (value: number) =>
    known === 'alkalinity' ? stepWords('alkalinity', value) : `${numberWords(value, 0)} mg/L`;
  const isOver = rise > cap.usual;
  const says = `${litres(reservoirL)} at once raises ${words[known]} by ${said(rise)}; the cap of a day is ${said(cap.usual)}.`;
  return { says: [says, ...(known === 'alkalinity' ? phWords(holds, rise) : [])], isOver };
}

const bases: readonly (readonly [RegExp, SubstanceCode])[] = [
  [/bicarb|baking soda/i, 'sodium-bicarbonate'],
  [limeWords, 'calcium-hydroxide'],
  [/hydroxide/i, 'calcium-hydroxide'],
  [/carbonate|soda/i, 'sodium-carbonate'],
];

function phWords(holds: string, riseMeqL: number): string[] {
  const base = bases.find(([named]) => named.test(holds));
  if (base === undefined) return ['What it does to the pH depends on what is in it: enter that.'];
  try {
    const ph = phAfterAlkalinityDose(usualWater, usualPh, riseMeqL * umolKgPerMeqL, base[1]);
    return [`The pH goes from ${usualPh} to about ${numberWords(ph, 1)} (calculated from ${fixed.dKH(8)}).`];
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    return ['The pH goes beyond 9.9.'];
  }
}

/** Sensitive corals stand no less than this for two weeks (field thresholds of Acropora). */
const leastSalinity = 28;

/** A float that stays open: the whole container mixes in, or a line without end runs in and as much runs over. */
function topUpOpen(reservoirL: number | null, volumeL: number): WorstCase {
  if (reservoirL === null) {
    const toLeast = volumeL * Math.log(35 / leastSalinity);
    const after = salinityAfterOverflow(35, volumeL, volumeL / 10);
    const says = `What its container holds is not known. Fed by a line without end and with its float stuck open, ${litres(volumeL / 10)} take the salinity from 35 to ${numberWords(after, 1)}, and ${litres(Math.round(toLeast))} to ${leastSalinity}.`;
    return { says: [says], isOver: true };
  }
  const after = salinityAfterFreshWater(35, volumeL, reservoirL);
  const says = `With its float stuck open ${litres(reservoirL)} take the salinity from 35 to ${numberWords(after, 1)}; the cap of a day is ${DAILY_CAPS.salinity.usual}.`;
  return { says: [says], isOver: 35 - after > DAILY_CAPS.salinity.usual };
}

/** It stops and nobody sees it: what evaporates is not replaced. */
function topUpStopped({ useLPerDay }: Source, volumeL: number): WorstCase | null {
  if (useLPerDay === null || 7 * useLPerDay > volumeL / 2) return null;
  const after = (days: number) => numberWords(salinityAfterEvaporation(35, volumeL, days * useLPerDay), 1);
  const says = `If it stops, the salinity rises from 35 to ${after(1)} in a day, ${after(3)} in three and ${after(7)} in a week.`;
  return { says: [says], isOver: false };
}

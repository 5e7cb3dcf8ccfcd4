import { type Element, molarMassGPerMol } from '../atoms.ts';

/** How one unit relates to the canonical unit of its quantity. */
export type Scale = LinearScale | CurvedScale;

/** value = perCanonical x canonical + zero: 1.8 and 32 for degF where degC is canonical. */
export interface LinearScale {
  readonly perCanonical: number;
  readonly zero: number;
}

/** A unit that is no straight multiple of the canonical one, such as specific gravity. */
export interface CurvedScale {
  /** The canonical values that the unit can express. */
  readonly canonicalRange: readonly [number, number];
  toCanonical(value: number): number;
  fromCanonical(value: number): number;
}

/** One unit of one quantity: its code, how it relates to the canonical unit, and other ways people write it. */
export interface Unit {
  readonly code: string;
  readonly scale: Scale;
  readonly spellings: readonly string[];
}

/** A unit of which there are `perCanonical` to one canonical unit. */
export function linearUnit(code: string, perCanonical: number, spellings: readonly string[], zero = 0): Unit {
  return { code, scale: { perCanonical, zero }, spellings };
}

/** A chemical form in which a concentration can be stated: nitrate as NO3 or as N. */
export interface Species {
  /** What follows `mg/L ` in the unit's code; empty for the form that goes without saying. */
  readonly code: string;
  readonly atoms: Partial<Record<Element, number>>;
  /** Written forms, lower case without spaces: `no3n`. */
  readonly names: readonly string[];
}

/**
 * mg/L and ug/L in each chemical form, and umol/L, of a quantity whose canonical unit is mg/L in the first
 * form. All forms hold one atom of the element that is counted, so moles are the same in all of them.
 */
export function massUnits(forms: readonly [Species, ...Species[]]): Unit[] {
  const canonical = molarMassGPerMol(forms[0].atoms);
  const units = forms.flatMap((form) => {
    const share = molarMassGPerMol(form.atoms) / canonical;
    return [massUnit('mg/L', MILLIGRAM, share, form), massUnit('ug/L', MICROGRAM, share * 1000, form)];
  });
  return [...units, linearUnit('umol/L', 1000 / canonical, ['umol/l', 'micromol/l'])];
}

/** mg/L and ug/L of a substance that is stated in one form only. */
export function plainMassUnits(name: string, symbol: string): Unit[] {
  const form: Species = { code: '', atoms: {}, names: [name, symbol] };
  return [massUnit('mg/L', MILLIGRAM, 1, form), massUnit('ug/L', MICROGRAM, 1000, form)];
}

/** Milligrams per kilogram of solution pass for per litre in the trade (2 % apart in seawater), so `ppm` is read as mg/L. */
export const MILLIGRAM = ['mg/l', 'mgl-1', 'mg·l-1', 'ppm'];
export const MICROGRAM = ['ug/l', 'ugl-1', 'ug·l-1', 'mcg/l', 'ppb'];

function massUnit(mass: string, written: readonly string[], perCanonical: number, form: Species): Unit {
  const suffixed = written.flatMap((spelling) =>
    form.names.flatMap((name) => [spelling + name, name + spelling]),
  );
  const bare = form.code === '' ? written : [];
  return linearUnit(form.code === '' ? mass : `${mass} ${form.code}`, perCanonical, [...bare, ...suffixed]);
}

import { quantityOf } from './convert.ts';
import { MICROGRAM, MILLIGRAM, type Unit } from './scales.ts';

/** The unit that a piece of text names, or what to ask the person who wrote it. */
export type UnitText = { unit: string } | { question: string; unknown: boolean };

const BARE_GRAVITY = /^(sg|s\.g\.|d|specificgravity)$/;

/**
 * Finds the unit named by `text` (as written behind a number; may be empty) among those of a quantity. Text
 * that names only a mass (`mg/L`) takes the chemical form of `defaultUnit`; a bare `SG` takes its base when
 * `defaultUnit` has one.
 */
export function readUnit(text: string, quantityCode: string, defaultUnit: string): UnitText {
  const { name, units } = quantityOf(quantityCode);
  const { spelling, atDegC } = normalise(text);
  if (atDegC !== undefined && !(spelling.endsWith('s/cm') && atDegC === 25)) return conditionQuestion(text);
  if (spelling === '') return { unit: defaultUnit };
  const bare = bareUnit(spelling, units, defaultUnit);
  if (bare) return bare;
  const found = units.find(
    (unit) => normalise(unit.code).spelling === spelling || unit.spellings.includes(spelling),
  );
  if (found) return { unit: found.code };
  const known = oneOf(units.map((unit) => unit.code));
  return { question: `"${text.trim()}" is not a unit of ${name}; write ${known}`, unknown: true };
}

/** Lower case, no spaces or dashes between words, micro and degree signs spelt out, `at 25 degC` taken off. */
function normalise(text: string): { spelling: string; atDegC: number | undefined } {
  const plain = text
    .normalize('NFKC')
    .toLowerCase()
    .replace(/[μµ]/g, 'u')
    .replace(/°|º/g, 'deg')
    .replace(/[₀-₉]/g, (digit) => String('₀₁₂₃₄₅₆₇₈₉'.indexOf(digit)))
    .replace(/liter|litre/g, 'l');
  const condition = /\s*(?:at|@)\s*(\d+(?:\.\d+)?)\s*(?:deg)?\s*c$/.exec(plain);
  const unit = condition ? plain.slice(0, condition.index) : plain;
  const spelling = unit
    .replace(/\bas\b/g, '')
    .replace(/(?<=[a-z)\d])\s*-\s*(?=[a-z])/g, '')
    .replace(/[\s_:]/g, '')
    .replace(/(?<=[lmb])\((\w+)\)$/, '$1');
  return { spelling, atDegC: condition ? Number(condition[1]) : undefined };
}

function conditionQuestion(text: string): UnitText {
  return {
    question: `"${text.trim()}" states a temperature; enter conductivity compensated to 25 degC, and specific gravity with both its temperatures (SG 25/25)`,
    unknown: false,
  };
}

function bareUnit(spelling: string, units: readonly Unit[], defaultUnit: string): UnitText | undefined {
  if (BARE_GRAVITY.test(spelling)) return gravityUnit(units, defaultUnit);
  const mass = MILLIGRAM.includes(spelling) ? 'mg/L' : MICROGRAM.includes(spelling) ? 'ug/L' : undefined;
  return mass === undefined ? undefined : massUnit(mass, spelling, units, defaultUnit);
}

function gravityUnit(units: readonly Unit[], defaultUnit: string): UnitText | undefined {
  const bases = units.filter((unit) => unit.code.startsWith('SG')).map((unit) => unit.code);
  if (bases.length === 0) return undefined;
  if (bases.includes(defaultUnit)) return { unit: defaultUnit };
  return {
    question: `a specific gravity needs both its temperatures; write ${oneOf(bases)}`,
    unknown: false,
  };
}

function massUnit(
  mass: string,
  spelling: string,
  units: readonly Unit[],
  defaultUnit: string,
): UnitText | undefined {
  const choices = units.map((unit) => unit.code).filter((code) => code.startsWith(mass));
  if (choices.length === 0) return undefined;
  const species = /^[mu]g\/L(.*)$/.exec(defaultUnit)?.[1];
  const wanted = species === undefined ? undefined : mass + species;
  if (wanted !== undefined && choices.includes(wanted)) return { unit: wanted };
  if (choices.length === 1 && choices[0] === mass) return { unit: mass };
  return { question: `"${spelling}" of what? write ${oneOf(choices)}`, unknown: false };
}

function oneOf(codes: readonly string[]): string {
  return codes.length === 1 ? `${codes[0]}` : `one of ${codes.join(', ')}`;
}

import { describe, it } from 'vitest';
import { ATOMIC_WEIGHT_G_PER_MOL, type Element, molarMassGPerMol } from '../../src/science/atoms.ts';
import { num, referenceTable, text } from '../support/csv.ts';
import { published } from '../support/published.ts';

const weights = published('atomic weights', 'IUPAC abridged standard atomic weights 2021', 1e-12);
const masses = published('molar masses', 'IUPAC atomic weights 2021, table of compounds', {
  absolute: 5.1e-5,
});

/** Atoms of a written formula such as Ca(OH)2 or MgCl2.6H2O. */
function atomsOf(formula: string): Partial<Record<Element, number>> {
  const atoms: Partial<Record<Element, number>> = {};
  for (const part of formula
    .replace(/\((\w+)\)(\d)/g, (_, group: string, n: string) => group.repeat(Number(n)))
    .split('.')) {
    const [, times = '', rest = ''] = /^(\d*)(.*)$/.exec(part) ?? [];
    for (const [, element = '', count] of rest.matchAll(/([A-Z][a-z]?)(\d*)/g)) {
      const key = element as Element;
      atoms[key] = (atoms[key] ?? 0) + Number(count || 1) * Number(times || 1);
    }
  }
  return atoms;
}

describe('atomic weights', () => {
  const known = referenceTable('atomic_weights').filter(
    (row) => text(row, 'symbol') in ATOMIC_WEIGHT_G_PER_MOL,
  );

  it.each(known)('$symbol is $abridged_standard_atomic_weight', (row) => {
    weights.check(
      ATOMIC_WEIGHT_G_PER_MOL[text(row, 'symbol') as Element],
      num(row, 'abridged_standard_atomic_weight'),
    );
  });
});

describe('molar masses', () => {
  it.each(referenceTable('molar_masses'))('$formula is $molar_mass_g_mol', (row) => {
    masses.check(molarMassGPerMol(atomsOf(text(row, 'formula'))), num(row, 'molar_mass_g_mol'));
  });
});

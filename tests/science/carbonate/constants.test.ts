import { describe, it } from 'vitest';
import { fluorideMolPerKg, sulphateMolPerKg } from '../../../src/science/carbonate/composition.ts';
import { bisulphateConstant, hydrogenFluorideConstant } from '../../../src/science/carbonate/ph-scale.ts';
import {
  boronUmolPerKg,
  type CarbonateConstants,
  calciumUmolPerKg,
  carbonateConstants,
} from '../../../src/science/carbonate.ts';
import { num, type Row, referenceTable, text } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

const guide = published(
  'carbonate constants',
  'Dickson, Sabine & Christian 2007; Zeebe & Wolf-Gladrow 2001',
  { absolute: 0.0051 },
);
const library = published('carbonate constants in pK', 'PyCO2SYS 1.8.3.4', { absolute: 1e-6 });
const waterPk = published('ion product of water in pK', 'PyCO2SYS 1.8.3.4 (another change of scale)', {
  absolute: 0.006,
});
const totals = published('boron and calcium of seawater', 'PyCO2SYS 1.8.3.4', 1e-6);
const printedTotals = published(
  'sulphate and fluoride of seawater',
  'PyCO2SYS 1.8.3.4, printed to 0.01 and 0.001 umol/kg',
  {
    absolute: 5.1e-3,
  },
);
const boron = published('total boron', 'Uppstrom 1974; Lee et al. 2010', { absolute: 5e-7 });

const NAMES: Record<string, keyof CarbonateConstants> = {
  K0: 'k0',
  K1: 'k1',
  K2: 'k2',
  KB: 'kBoric',
  KW: 'kWater',
  KP1: 'kPhosphoric1',
  KP2: 'kPhosphoric2',
  KP3: 'kPhosphoric3',
  'Ksp aragonite': 'kAragonite',
  'Ksp calcite': 'kCalcite',
};

describe('the constants at salinity 35 and 25 degC', () => {
  const k = carbonateConstants(35, 25);
  const rows = referenceTable('carbonate_constants_check').filter((row) =>
    text(row, 'status').startsWith('confirmed'),
  );

  it.each(rows.filter((row) => text(row, 'quantity') in NAMES))('$quantity is $form $published', (row) => {
    const value = k[NAMES[text(row, 'quantity')] ?? 'k0'];
    const logarithm = text(row, 'form') === 'ln K' ? Math.log(value) : Math.log10(value);
    guide.check(logarithm, num(row, 'published'), text(row, 'quantity'));
  });

  it('bisulphate and hydrogen fluoride too', () => {
    const find = (quantity: string) => num(rows.find((row) => row.quantity === quantity) as Row, 'published');
    guide.check(Math.log(bisulphateConstant(35, 298.15)), find('KS'));
    guide.check(Math.log(hydrogenFluorideConstant(35, 298.15)), find('KF'));
  });

  it('boron by its two measurements', () => {
    const of = (formulation: string) =>
      num(rows.find((row) => row.formulation === formulation) as Row, 'published');
    boron.check(boronUmolPerKg(35) / 1e6, of('Uppstrom 1974'));
    boron.check(boronUmolPerKg(35, 'Lee 2010') / 1e6, of('Lee et al. 2010'));
  });
});

describe('the constants over salinity and temperature', () => {
  const PK: [string, keyof CarbonateConstants][] = [
    ['pK0', 'k0'],
    ['pK1_Lueker2000', 'k1'],
    ['pK2_Lueker2000', 'k2'],
    ['pKB_Dickson1990', 'kBoric'],
    ['pKsp_aragonite_Mucci1983', 'kAragonite'],
    ['pKsp_calcite_Mucci1983', 'kCalcite'],
  ];

  it.each(referenceTable('carbonate_constants_table'))('S $S, $t_degC degC', (row) => {
    const [s, degC] = [num(row, 'S'), num(row, 't_degC')];
    const k = carbonateConstants(s, degC);
    for (const [column, name] of PK) library.check(-Math.log10(k[name]), num(row, column), column);
    library.check(-Math.log10(bisulphateConstant(s, degC + 273.15)), num(row, 'pKS_Dickson1990_free'));
    library.check(-Math.log10(hydrogenFluorideConstant(s, degC + 273.15)), num(row, 'pKF_PerezFraga1987'));
    waterPk.check(-Math.log10(k.kWater), num(row, 'pKW_Millero1995'));
    totals.check(boronUmolPerKg(s), num(row, 'TB_Uppstrom1974_umol_kg'));
    totals.check(boronUmolPerKg(s, 'Lee 2010'), num(row, 'TB_Lee2010_umol_kg'));
    totals.check(calciumUmolPerKg(s), num(row, 'Ca_umol_kg'));
    printedTotals.check(sulphateMolPerKg(s) * 1e6, num(row, 'SO4_umol_kg'));
    printedTotals.check(fluorideMolPerKg(s) * 1e6, num(row, 'F_umol_kg'));
  });
});

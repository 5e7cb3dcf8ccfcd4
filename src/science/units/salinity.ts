import { conductivityFromSalinity, salinityFromConductivity } from '../seawater/pss78.ts';
import {
  type GravityBase,
  salinityFromSpecificGravity,
  specificGravity,
} from '../seawater/specific-gravity.ts';
import { linearUnit, type Unit } from './scales.ts';

/** 60 degF, the reference temperature of older hydrometer tables. */
const SIXTY_F_IN_DEGC = (60 - 32) / 1.8;

/** The specific-gravity units and what each is relative to. */
export const GRAVITY_BASES: Readonly<Record<string, GravityBase>> = {
  'SG 25/25': { sampleDegC: 25, waterDegC: 25 },
  'SG 20/20': { sampleDegC: 20, waterDegC: 20 },
  'SG 15/15': { sampleDegC: 15, waterDegC: 15 },
  'SG 60F/60F': { sampleDegC: SIXTY_F_IN_DEGC, waterDegC: SIXTY_F_IN_DEGC },
  'SG 25/4': { sampleDegC: 25, waterDegC: 4 },
  'SG 20/4': { sampleDegC: 20, waterDegC: 4 },
};

/** Conductivity meters compensate to this temperature. */
export const CONDUCTIVITY_REFERENCE_DEGC = 25;

/** g/kg of Reference Salinity per unit of practical salinity: Millero et al. 2008, Deep-Sea Research I 55, 50. */
const REFERENCE_SALINITY = 35.16504 / 35;

/** Salinity, canonical in PSS-78: practical salinity, g/kg, specific gravity at stated temperatures, conductivity at 25 degC. */
export const SALINITY_UNITS: readonly Unit[] = [
  linearUnit('PSU', 1, ['psu', 'pss', 'pss-78', 'pss78', 'ppt', '‰']),
  linearUnit('g/kg', REFERENCE_SALINITY, ['g/kg', 'gkg-1']),
  ...Object.entries(GRAVITY_BASES).map(([code, base]) => gravityUnit(code, base)),
  conductivityUnit('mS/cm', 1, ['ms/cm', 'mscm-1']),
  conductivityUnit('uS/cm', 1000, ['us/cm', 'uscm-1']),
];

function gravityUnit(code: string, base: GravityBase): Unit {
  const ratio = code.slice(3).toLowerCase();
  return {
    code,
    scale: {
      canonicalRange: [0, 42],
      toCanonical: (gravity) => salinityFromSpecificGravity(gravity, base),
      fromCanonical: (salinity) => specificGravity(salinity, base),
    },
    spellings: ['sg', 's.g.', 'd'].flatMap((name) => [
      `${name}${ratio}`,
      `${name}(${ratio})`,
      `${ratio}${name}`,
    ]),
  };
}

function conductivityUnit(code: string, perMsPerCm: number, spellings: readonly string[]): Unit {
  return {
    code,
    scale: {
      canonicalRange: [2, 42],
      toCanonical: (value) => salinityFromConductivity(value / perMsPerCm, CONDUCTIVITY_REFERENCE_DEGC),
      fromCanonical: (salinity) =>
        conductivityFromSalinity(salinity, CONDUCTIVITY_REFERENCE_DEGC) * perMsPerCm,
    },
    spellings,
  };
}

/** Equilibrium constants of seawater at one salinity and temperature, total pH scale, mol/kg of seawater. */
export interface CarbonateConstants {
  /** Solubility of carbon dioxide, mol/(kg atm). */
  k0: number;
  k1: number;
  k2: number;
  kBoric: number;
  kWater: number;
  kPhosphoric1: number;
  kPhosphoric2: number;
  kPhosphoric3: number;
  /** Solubility products, mol2/kg2. */
  kAragonite: number;
  kCalcite: number;
}

/**
 * The constants at practical salinity 19 to 43 and 2 to 35 degC (the range of K1 and K2; not checked here), at the
 * surface. Standard uncertainties in {@link CONSTANT_UNCERTAINTY}.
 *
 * Sources: K0 Weiss 1974; K1, K2 Lueker et al. 2000; boric acid Dickson 1990; water and phosphoric acid Millero
 * 1995 on the total scale as in Dickson, Sabine & Christian 2007 (Guide to Best Practices), chapter 5; calcium
 * carbonate Mucci 1983.
 */
export function carbonateConstants(salinity: number, temperatureDegC: number): CarbonateConstants {
  const t = temperatureDegC + 273.15;
  const lnT = Math.log(t);
  return {
    k0: solubilityOfCo2(salinity, t),
    k1: 10 ** -(3633.86 / t - 61.2172 + 9.6777 * lnT - 0.011555 * salinity + 0.0001152 * salinity ** 2),
    k2: 10 ** -(471.78 / t + 25.929 - 3.16967 * lnT - 0.01781 * salinity + 0.0001122 * salinity ** 2),
    kBoric: boricAcid(salinity, t, lnT),
    kWater: water(salinity, t, lnT),
    ...phosphoricAcid(salinity, t, lnT),
    ...calciumCarbonate(salinity, t, lnT),
  };
}

function solubilityOfCo2(s: number, t: number): number {
  const h = t / 100;
  const bySalt = s * (0.023517 - 0.023656 * h + 0.0047036 * h * h);
  return Math.exp(93.4517 / h - 60.2409 + 23.3585 * Math.log(h) + bySalt);
}

function boricAcid(s: number, t: number, lnT: number): number {
  const root = Math.sqrt(s);
  const perT = -8966.9 - 2890.53 * root - 77.942 * s + 1.728 * s * root - 0.0996 * s * s;
  const constant = 148.0248 + 137.1942 * root + 1.62142 * s;
  const perLnT = -24.4344 - 25.085 * root - 0.2474 * s;
  return Math.exp(perT / t + constant + perLnT * lnT + 0.053105 * root * t);
}

function water(s: number, t: number, lnT: number): number {
  const bySalt = (-5.977 + 118.67 / t + 1.0495 * lnT) * Math.sqrt(s) - 0.01615 * s;
  return Math.exp(148.9652 - 13847.26 / t - 23.6521 * lnT + bySalt);
}

function phosphoricAcid(s: number, t: number, lnT: number) {
  const root = Math.sqrt(s);
  const first = -4576.752 / t + 115.525 - 18.453 * lnT;
  const second = -8814.715 / t + 172.0883 - 27.927 * lnT;
  const third = -3070.75 / t - 18.141;
  return {
    kPhosphoric1: Math.exp(first + (-106.736 / t + 0.69171) * root + (-0.65643 / t - 0.01844) * s),
    kPhosphoric2: Math.exp(second + (-160.34 / t + 1.3566) * root + (0.37335 / t - 0.05778) * s),
    kPhosphoric3: Math.exp(third + (17.27039 / t + 2.81197) * root + (-44.99486 / t - 0.09984) * s),
  };
}

function calciumCarbonate(s: number, t: number, lnT: number) {
  const root = Math.sqrt(s);
  const shared = -0.077993 * t + (71.595 * lnT) / Math.LN10;
  const aragonite = -171.945 + shared + 2903.293 / t + (-0.068393 + 0.0017276 * t + 88.135 / t) * root;
  const calcite = -171.9065 + shared + 2839.319 / t + (-0.77712 + 0.0028426 * t + 178.34 / t) * root;
  return {
    kAragonite: 10 ** (aragonite - 0.10018 * s + 0.0059415 * s * root),
    kCalcite: 10 ** (calcite - 0.07711 * s + 0.0041249 * s * root),
  };
}

/**
 * Standard uncertainties of the constants in pK units, and of total boron as a part of it.
 * Source: Orr, Epitalon, Dickson & Gattuso 2018, Marine Chemistry 207, 84 (defaults of seacarb's `errors`).
 */
export const CONSTANT_UNCERTAINTY = {
  k0: 0.002,
  k1: 0.0075,
  k2: 0.015,
  kBoric: 0.01,
  kWater: 0.01,
  kAragonite: 0.02,
  kCalcite: 0.02,
  boronShare: 0.02,
} as const;

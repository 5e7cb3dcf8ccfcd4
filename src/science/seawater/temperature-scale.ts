/**
 * IPTS-68 temperature in degC for an ITS-90 one (what a thermometer shows today): t68 = 1.00024 t90.
 * Valid -2 to 40 degC, within 0.001 degC. The equations of 1978 and 1980 are written in t68.
 * Source: Saunders, WOCE Newsletter 10 (1990); used so in TEOS-10.
 */
export function ipts68(temperatureDegC: number): number {
  return 1.00024 * temperatureDegC;
}

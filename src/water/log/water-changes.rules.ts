/** What some new water holds, by quantity code, in canonical units. A quantity left out is as in the usual make-up water. */
export type MakeUp = Readonly<Record<string, number>>;

/** The quantities that purified water holds none of. */
const absentWhenPurified = ['alkalinity', 'calcium', 'magnesium', 'nitrate', 'phosphate'] as const;
/** Quantities that do not follow the salt of the water. */
const notPartOfTheSalt = new Set(['temperature', 'ph', 'orp', 'par', 'salinity']);
/** Practical salinity of the usual make-up water where it is not stated: that of reference seawater. */
const usualSalinity = 35;

/**
 * What water of another salinity holds, made of the salt that makes the usual make-up water: everything in proportion
 * to the salt (constancy of composition, Marcet 1819; Dittmar 1884), nothing in purified water.
 *
 * @param usual the usual make-up water, as far as it is stated
 * @param salinity practical salinity of the new water, 0 for purified water
 */
export function makeUpAtSalinity(usual: MakeUp, salinity: number): MakeUp {
  const ratio = salinity / (usual.salinity || usualSalinity);
  const stated = Object.entries(usual).filter(([code]) => !notPartOfTheSalt.has(code));
  const absent = salinity === 0 ? absentWhenPurified.map((code) => [code, 0] as const) : [];
  const inProportion = stated.map(([code, value]) => [code, value * ratio] as const);
  return { ...Object.fromEntries([...absent, ...inProportion]), salinity };
}

/** What some new water holds, by quantity code, canonical. What it does not name is as in the usual make-up water. */
export type MakeUp = Readonly<Record<string, number>>;

/** Quantities that purified water holds none of. */
const brought = ['alkalinity', 'calcium', 'magnesium', 'nitrate', 'phosphate'] as const;
/** No contents of the water: they do not follow its salt. */
const notDissolved = new Set(['temperature', 'ph', 'orp', 'par', 'salinity']);
/** Practical salinity of the usual make-up water where nobody stated it: that of the reference seawater. */
const usualSalinity = 35;

/**
 * What water of another salinity holds, made of the salt that makes the usual make-up water: everything in proportion
 * to the salt (constancy of composition, Marcet 1819; Dittmar 1884), nothing in purified water.
 *
 * @param usual the usual make-up water, as far as it is stated
 * @param salinity practical salinity of the new water, 0 for purified water
 */
export function makeUpAt(usual: MakeUp, salinity: number): MakeUp {
  const part = salinity / (usual.salinity || usualSalinity);
  const stated = Object.entries(usual).filter(([code]) => !notDissolved.has(code));
  const none = salinity === 0 ? brought.map((code) => [code, 0] as const) : [];
  const held = stated.map(([code, value]) => [code, value * part] as const);
  return { ...Object.fromEntries([...none, ...held]), salinity };
}

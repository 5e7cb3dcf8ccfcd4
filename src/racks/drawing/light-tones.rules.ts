/**
 * At each of these values, umol/(m2 s), the background of a slot gets one step brighter (own choice: narrow steps where
 * most corals are kept). The same on every rack, so that racks compare.
 */
export const LIGHT_STEPS = [40, 70, 100, 140, 200, 300] as const;

/** The CSS class of a slot's background; null where light was never measured. */
export function lightTone(par: number | null): string {
  if (par === null) return 'light-none';
  return `light-${LIGHT_STEPS.filter((step) => par >= step).length}`;
}

/** The nutrients that can be planned. */
export const nutrientCodes = ['nitrate', 'phosphate'] as const;
export type NutrientCode = (typeof nutrientCodes)[number];

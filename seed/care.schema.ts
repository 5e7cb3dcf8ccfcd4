import { z } from 'zod';
import { GrowthForm } from '../src/generated/prisma/enums.ts';

/** The figures that the library knows, and which of their parts each has. */
const CARE_FIGURES = {
  par_range: 'range',
  par_ceiling: 'high',
  step_ratio: 'high',
  adaptation_days: 'high',
  dwell_days: 'high',
  flow: 'range',
  jet: 'words',
  base: 'words',
  feeding_every_days: 'high',
  feeding: 'words',
  reach_mm: 'high',
  growth_mm_year: 'range',
  heal_days: 'high',
  piece_size_mm: 'high',
  sale_size_mm: 'high',
  quarantine_days: 'high',
  alkalinity: 'range',
  calcium: 'range',
  magnesium: 'range',
  nitrate: 'range',
  phosphate: 'range',
  salinity: 'range',
  temperature: 'range',
  box_temperature: 'range',
  caution: 'words',
} as const;

export type CareFigureName = keyof typeof CARE_FIGURES;
export const CARE_FIGURE_NAMES = Object.keys(CARE_FIGURES) as CareFigureName[];

const figure = z
  .strictObject({
    low: z.number().min(0).optional(),
    high: z.number().min(0).optional(),
    words: z.string().min(1).optional(),
    basis: z.enum(['published', 'computed', 'common_practice', 'from_memory', 'own_choice']),
    source: z.string().min(3),
    confidence: z.literal('low').optional(),
  })
  .refine((f) => (f.low ?? 0) <= (f.high ?? Number.POSITIVE_INFINITY), 'low stands above high');

const figures = z.partialRecord(z.enum(CARE_FIGURE_NAMES), figure).superRefine((all, context) => {
  for (const [name, f] of Object.entries(all)) {
    const has = { range: [f.low, f.high], high: [f.high], words: [f.words] }[
      CARE_FIGURES[name as CareFigureName]
    ];
    if (has.includes(undefined)) context.addIssue({ code: 'custom', message: `${name} lacks a part` });
  }
});

const code = z.string().regex(/^[a-z][a-z-]*$/);
const named = {
  code,
  name: z.string().min(3),
  alsoCalled: z.array(z.string()).default([]),
  note: z.string().default(''),
  growthForm: z.enum(GrowthForm).optional(),
};
const taxon = z.strictObject({ ...named, figures: figures.default({}) });

/** One care group with its taxa, as a file of `seed/care/` holds it. */
export const careGroup = z.strictObject({ ...named, figures, taxa: z.array(taxon).min(1) });

/** Figures that every group starts from. */
export const commonCare = z.strictObject({ figures });

export type CareFigure = z.infer<typeof figure>;
export type CareFigures = Partial<Record<CareFigureName, CareFigure>>;
export type CareGroup = z.infer<typeof careGroup>;

/** A row of `seed/quantities.json`. */
export const quantitySeed = z.strictObject({
  code: z.string(),
  name: z.string(),
  position: z.int().positive(),
  canonicalUnit: z.string(),
  displayUnit: z.string(),
  decimals: z.int().min(0).max(4),
  plausibleLow: z.number(),
  plausibleHigh: z.number(),
  possibleLow: z.number(),
  possibleHigh: z.number(),
  source: z.string().min(3),
});

/** A row of `seed/methods.json`; uncertainty, step and detection limit in the canonical unit. */
export const methodSeed = z.strictObject({
  quantityCode: z.string(),
  name: z.string(),
  absolute: z.number().min(0),
  relative: z.number().min(0),
  step: z.number().positive().optional(),
  detectionLimit: z.number().positive().optional(),
  sideDivisor: z.number().gt(1).optional(),
  isDefault: z.boolean(),
  isProbe: z.literal(true).optional(),
  note: z.string().min(3),
});

export type QuantitySeed = z.infer<typeof quantitySeed>;
export type MethodSeed = z.infer<typeof methodSeed>;

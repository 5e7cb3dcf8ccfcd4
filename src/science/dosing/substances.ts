import { ATOMIC_WEIGHT_G_PER_MOL, type Element, molarMassGPerMol } from '../atoms.ts';
import { inRange } from '../numeric/range.ts';

/** What a dose can raise. */
export type DosedQuantity = 'alkalinity' | 'calcium' | 'magnesium';

/** A dry substance that is dosed. */
export interface Substance {
  readonly name: string;
  /** Other names that mean this substance and no other form of it; common usage. */
  readonly otherNames: readonly string[];
  readonly formula: string;
  readonly molarMassGPerMol: number;
  /** Per gram of the pure substance: meq of alkalinity, mg of calcium or magnesium. */
  readonly perGram: Partial<Record<DosedQuantity, number>>;
  /** Moles of dissolved carbon that come with one equivalent of alkalinity. */
  readonly carbonPerEquivalent: number;
  /** Grams of dry salt in a gram; the rest is water of crystallisation. */
  readonly dryShare: number;
}

/** The dosed substances by code. Molar masses from IUPAC atomic weights 2021, pure substances. */
export const SUBSTANCES = {
  'sodium-bicarbonate': substance(
    'sodium bicarbonate',
    'NaHCO3',
    { Na: 1, H: 1, C: 1, O: 3 },
    { equivalents: 1, carbon: 1 },
    ['baking soda', 'bicarbonate of soda', 'sodium hydrogen carbonate', 'bicarb'],
  ),
  'sodium-carbonate': substance(
    'sodium carbonate',
    'Na2CO3',
    { Na: 2, C: 1, O: 3 },
    { equivalents: 2, carbon: 1 },
    ['soda ash', 'sodium carbonate, anhydrous', 'anhydrous sodium carbonate'],
  ),
  'calcium-hydroxide': substance(
    'calcium hydroxide',
    'Ca(OH)2',
    { Ca: 1, O: 2, H: 2 },
    { equivalents: 2, metal: 'Ca' },
    ['slaked lime', 'hydrated lime', 'pickling lime'],
  ),
  'calcium-chloride': substance('calcium chloride, anhydrous', 'CaCl2', { Ca: 1, Cl: 2 }, { metal: 'Ca' }, [
    'anhydrous calcium chloride',
  ]),
  'calcium-chloride-dihydrate': substance(
    'calcium chloride dihydrate',
    'CaCl2.2H2O',
    { Ca: 1, Cl: 2 },
    { metal: 'Ca', water: 2 },
  ),
  'magnesium-chloride-hexahydrate': substance(
    'magnesium chloride hexahydrate',
    'MgCl2.6H2O',
    { Mg: 1, Cl: 2 },
    { metal: 'Mg', water: 6 },
  ),
  'magnesium-sulphate-heptahydrate': substance(
    'magnesium sulphate heptahydrate',
    'MgSO4.7H2O',
    { Mg: 1, S: 1, O: 4 },
    { metal: 'Mg', water: 7 },
    ['magnesium sulfate heptahydrate', 'epsom salt', 'epsom salts'],
  ),
} as const satisfies Record<string, Substance>;

export type SubstanceCode = keyof typeof SUBSTANCES;

/** What one gram raises of a quantity, at a purity of 0.5 to 1: meq, or mg. Throws a RangeError when it raises none. */
export function amountPerGram(code: SubstanceCode, quantity: DosedQuantity, purity: number): number {
  inRange(purity, 0.5, 1, 'purity');
  const { name, perGram }: Substance = SUBSTANCES[code];
  const amount = perGram[quantity];
  if (amount === undefined) throw new RangeError(`${name} does not raise ${quantity}`);
  return amount * purity;
}

/** Words for limewater and for what it is made of, in any of their usual names. */
export const limeWords =
  /\blime\s?water\b|\bkalk(wasser)?\b|\b(slaked|hydrated|pickling) lime\b|calcium hydroxide|Ca\(OH\)2/i;

interface Makeup {
  equivalents?: number;
  carbon?: number;
  metal?: 'Ca' | 'Mg';
  water?: number;
}

function substance(
  name: string,
  formula: string,
  dry: Partial<Record<Element, number>>,
  makeup: Makeup,
  otherNames: readonly string[] = [],
): Substance {
  const dryMass = molarMassGPerMol(dry);
  const mass = dryMass + (makeup.water ?? 0) * molarMassGPerMol({ H: 2, O: 1 });
  const metal = makeup.metal && {
    [makeup.metal === 'Ca' ? 'calcium' : 'magnesium']: (ATOMIC_WEIGHT_G_PER_MOL[makeup.metal] * 1000) / mass,
  };
  const alkalinity = makeup.equivalents && { alkalinity: (makeup.equivalents * 1000) / mass };
  return {
    name,
    otherNames,
    formula,
    molarMassGPerMol: mass,
    perGram: { ...alkalinity, ...metal },
    carbonPerEquivalent: makeup.equivalents ? (makeup.carbon ?? 0) / makeup.equivalents : 0,
    dryShare: dryMass / mass,
  };
}

import { readdirSync, readFileSync } from 'node:fs';
import { z } from 'zod';
import {
  type CareFigures,
  type CareGroup,
  careGroup,
  commonCare,
  type MethodSeed,
  methodSeed,
  type QuantitySeed,
  quantitySeed,
} from './care.schema.ts';

const here = (path: string) => new URL(path, import.meta.url);
const json = (path: string): unknown => JSON.parse(readFileSync(here(path), 'utf8'));

/** One kind of the library with its whole care: what it says itself over what its group says. */
export interface LibraryKind {
  code: string;
  name: string;
  alsoCalled: string[];
  group: string;
  care: CareFigures;
}

/**
 * The care groups of `seed/care/`, in order of their files, each starting from the figures common to all.
 * @throws ZodError naming the file's fault
 */
export function careGroups(): CareGroup[] {
  const common = commonCare.parse(json('./care/common.json')).figures;
  return readdirSync(here('./care'))
    .filter((name) => name.endsWith('.json') && name !== 'common.json')
    .sort()
    .map((name) => careGroup.parse(json(`./care/${name}`)))
    .map((group) => ({ ...group, figures: { ...common, ...group.figures } }));
}

/** Every taxon of the library, its care resolved. */
export function libraryKinds(): LibraryKind[] {
  return careGroups().flatMap((group) =>
    group.taxa.map(({ code, name, alsoCalled, figures }) => ({
      code,
      name,
      alsoCalled,
      group: group.code,
      care: { ...group.figures, ...figures },
    })),
  );
}

/** The quantities a bench measures, in bench order. */
export function quantities(): QuantitySeed[] {
  return z.array(quantitySeed).parse(json('./quantities.json'));
}

/** The ways they are measured, with what each can resolve. */
export function methods(): MethodSeed[] {
  return z.array(methodSeed).parse(json('./methods.json'));
}

import { z } from 'zod';
import { capitalized } from '../words/capitals.ts';

/** How a field is told to programs. */
export interface FieldShape {
  /** JSON Schema of what is sent; text is taken as well, as a form sends it. */
  json: Record<string, unknown>;
  /** It must be sent, though a form may send it empty and is told so in words. */
  needed?: boolean;
}

/** What each kind of field takes, for the document of the doors: beside its check, so that there is one of both. */
export const fieldShapes = z.registry<FieldShape>();

/** The words of a field as a sentence begins. */
export const described = (what: string, unit = ''): string =>
  `${capitalized(what)}${unit === '' ? '' : `, in ${unit}`}`;

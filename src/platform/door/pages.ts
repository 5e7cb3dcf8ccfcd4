import { z } from 'zod';
import { Refusal } from '../refusal.ts';

// A list that grows is read page by page: a cursor is the place of a thing in the list's own order, and the next page
// begins behind it. What comes or goes meanwhile neither repeats nor hides any other.

/** What a list holds ("alerts"), how many of them one answer gives at most, and how many where nothing is asked. */
export interface PageBounds {
  things: string;
  most: number;
  usual: number;
}

/** A page as a list is asked for it: what stands behind `after` (null: from the beginning), at most `limit`. */
export interface Page<Place> {
  after: Place | null;
  limit: number;
}

/** What the query of a list takes beside its own fields. */
export const pageFields = ({ things, most, usual }: PageBounds) => {
  const howMany = `Ask for 1 to ${most} ${things}.`;
  return {
    limit: z.coerce
      .number(howMany)
      .int(howMany)
      .min(1, howMany)
      .max(most, howMany)
      .default(usual)
      .describe(`How many ${things} one answer gives at most: 1 to ${most}, ${usual} where nothing is said.`),
    cursor: z
      .string('Send one cursor.')
      .optional()
      .describe('“next” of the page before, as it is; without it the list begins.'),
  };
};

/** What every page of such a list answers beside its things. */
export const nextCursor = z.string().nullable().describe('The cursor of the next page; null at the end.');

export const cursorOf = (place: unknown): string => Buffer.from(JSON.stringify(place)).toString('base64url');

/** The page that a checked query asks for. @throws Refusal 422 for what is no cursor of this list */
export function pageAsked<Place>(
  { limit, cursor }: { limit: number; cursor?: string | undefined },
  schema: z.ZodType<Place>,
  { things }: Pick<PageBounds, 'things'>,
): Page<Place> {
  if (cursor === undefined) return { after: null, limit };
  try {
    return { after: schema.parse(JSON.parse(Buffer.from(cursor, 'base64url').toString())), limit };
  } catch {
    throw new Refusal(`This is no cursor of ${things}. Take “next” of the page before as it is.`, {
      field: 'cursor',
    });
  }
}

/** A page out of what was found, of which one more than the page holds was asked for, and its cursor. */
export function pageOf<T>(
  found: readonly T[],
  limit: number,
  placeOf: (one: T) => unknown,
): { some: T[]; next: string | null } {
  const some = found.slice(0, limit);
  const last = some.at(-1);
  return { some, next: found.length > limit && last !== undefined ? cursorOf(placeOf(last)) : null };
}

import { z } from 'zod';

const uuid = z.uuid();

/** What a write made, as its answer tells a program. */
export interface Made {
  /** The id of what was made or changed; null where it has none of its own. */
  id: string | null;
  /** The code of a lot. */
  code: string | null;
}

/** What the result of a change names. */
export function madeBy(result: unknown): Made {
  const { id, code } = (typeof result === 'object' && result !== null ? result : { id: result }) as {
    id?: unknown;
    code?: unknown;
  };
  return { id: uuid.safeParse(id).data ?? null, code: typeof code === 'string' ? code : null };
}

/** What a form holds, as a program reads it: its values, and what goes back with a change. */
export interface FormValues {
  title: string;
  values: Record<string, string | string[]>;
  /** The version of what is changed, where one is counted. */
  version: number | null;
  /** What is changed, in a few signs, where no version is counted. */
  seen: string | null;
  /** What would happen to each of several things, in a few signs; goes back as it is. */
  agreed?: string;
}

/** The values of a form that is drawn from `data`. */
export function valuesOf(
  title: string,
  typed: Record<string, string | string[]>,
  data: { seen?: unknown; version?: unknown; agreed?: unknown },
): FormValues {
  const version = Number(typed.version ?? data.version ?? Number.NaN);
  const { version: _version, seen: kept, ...values } = typed;
  const seen = typeof data.seen === 'string' && data.seen !== '' ? data.seen : null;
  return {
    title,
    values: seen === null && kept !== undefined ? { ...values, seen: kept } : values,
    version: Number.isInteger(version) && typed.version !== '' ? version : null,
    seen,
    ...(typeof data.agreed === 'string' ? { agreed: data.agreed } : {}),
  };
}

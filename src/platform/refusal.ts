import type { FieldError } from './views/page.ts';

/** Why something is not done, said to the person who asked for it. */
export class Refusal extends Error {
  readonly status: number;
  readonly fields: FieldError[];
  /** When it may be asked for again, in seconds; null where waiting changes nothing. */
  readonly retryAfterS: number | null;

  /**
   * @param message one sentence that says what is wrong and what to do
   * @param options status: 422 unless told (404 not found, 403 forbidden, 409 changed meanwhile);
   *   field: the form field the message belongs beside; fields: several; retryAfterS: seconds to wait
   */
  constructor(
    message: string,
    options: { status?: number; field?: string; fields?: FieldError[]; retryAfterS?: number } = {},
  ) {
    super(message);
    this.name = 'Refusal';
    this.status = options.status ?? 422;
    this.retryAfterS = options.retryAfterS ?? null;
    this.fields = options.fields ?? [{ field: options.field ?? '', message }];
  }
}

/** Something else was saved under the key of this request before. */
export class SentBefore extends Refusal {
  constructor() {
    super('Something else was saved under this key before. Send this under a key of its own.');
  }
}

/** Something asked for by its address that is not there. `what`: "This lot". */
export function notFound(what: string): Refusal {
  return new Refusal(`${what} does not exist, or no longer.`, { status: 404 });
}

/** Somebody else changed it since the form was drawn. */
export function staleEdit(what: string): Refusal {
  return new Refusal(
    `Somebody changed ${what} while you were editing. What you typed is kept below; look at what is there now, then save again.`,
    { status: 409 },
  );
}

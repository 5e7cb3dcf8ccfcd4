import type { Work } from '../../platform/change.ts';
import { lotSubject } from '../base/lot-lock.ts';

/** What sizes and prices of one lot become; what is left out stays. */
export interface FigureChange {
  id: string;
  code: string;
  before: { sizeMm: number | null; priceMinor: number | null };
  after: { sizeMm?: number | null; priceMinor?: number | null };
}

/**
 * Sets sizes (mm) and prices (minor units of the site's currency) of several lots in one statement. The lots are locked
 * by the caller.
 */
export async function setFigures(work: Work, changes: readonly FigureChange[]): Promise<void> {
  if (changes.length === 0) return;
  const rows = changes.map(({ id, before, after }) => ({ id, ...before, ...after }));
  await work.tx.$executeRaw`
    UPDATE lot SET size_mm = changed."sizeMm", price_minor = changed."priceMinor", version = version + 1
      FROM json_to_recordset(${JSON.stringify(rows)}::json) AS changed (id uuid, "sizeMm" int, "priceMinor" int)
     WHERE lot.id = changed.id`;
  for (const { id, code, before, after } of changes)
    work.record('lot.changed', lotSubject(id), { code, before, after: { ...before, ...after } });
}

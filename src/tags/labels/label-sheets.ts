import type { LabelSheet } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { fitsOnPage, type SheetLayout } from './label-sheets.rules.ts';

export interface NewSheet extends SheetLayout {
  name: string;
}

/** The farm's label sheets that are in use: the one printed on last comes first. */
export const listSheets = (db: Reader): Promise<LabelSheet[]> =>
  db.labelSheet.findMany({
    where: { retiredAt: null },
    orderBy: [{ lastUsedAt: { sort: 'desc', nulls: 'last' } }, { name: 'asc' }],
  });

/** @throws Refusal 404 */
export async function findSheet(db: Reader, id: string): Promise<LabelSheet> {
  const sheet = await db.labelSheet.findUnique({ where: { id } });
  if (sheet === null) throw notFound('This sheet');
  return sheet;
}

/** @throws Refusal when its labels do not lie within the page, or the name is taken */
export async function addSheet(work: Work, input: NewSheet): Promise<{ id: string }> {
  if (!fitsOnPage(input)) {
    const message = 'These labels do not fit on that page. Check the sizes, the offsets and the gaps.';
    throw new Refusal(message, { field: 'widthMm' });
  }
  const { id } = await work.tx.labelSheet.create({ data: input });
  work.record('label_sheet.added', { type: 'label_sheet', id }, { name: input.name });
  return { id };
}

/** Takes a sheet out of use; what was printed on it stays in the journal. @throws Refusal 404; 409 when it is already */
export async function retireSheet(work: Work, id: string): Promise<void> {
  const sheet = await findSheet(work.tx, id);
  const { count } = await work.tx.labelSheet.updateMany({
    where: { id, retiredAt: null },
    data: { retiredAt: work.now, name: `${sheet.name} (until ${work.now.toISOString()})` },
  });
  if (count === 0) throw new Refusal('This sheet was taken out of use already.', { status: 409 });
  work.record('label_sheet.retired', { type: 'label_sheet', id }, { name: sheet.name });
}

import { type SheetLayout, usualPage } from '../labels/label-sheets.rules.ts';

/** The least size of a label that has room for a code that a tablet reads, mm (see `setLabel`). */
export const LEAST_LABEL_MM = { width: 30, height: 15 };

/** A page that labels fill in rows and columns without a gap; a side that is not given is that of the usual page. */
export function filledPage(
  asked: { rows: number; columns: number; pageWidthMm: number | null; pageHeightMm: number | null },
  usual = usualPage('cm'),
): SheetLayout {
  const { rows, columns } = asked;
  const pageWidthMm = asked.pageWidthMm ?? usual.pageWidthMm;
  const pageHeightMm = asked.pageHeightMm ?? usual.pageHeightMm;
  return {
    ...{ pageWidthMm, pageHeightMm, rows, columns },
    widthMm: pageWidthMm / columns,
    heightMm: pageHeightMm / rows,
    ...{ topMm: 0, leftMm: 0, gapXMm: 0, gapYMm: 0 },
  };
}

/** Whether a label of the sheet has room for its code. */
export const isLargeEnough = ({ widthMm, heightMm }: SheetLayout): boolean =>
  widthMm >= LEAST_LABEL_MM.width && heightMm >= LEAST_LABEL_MM.height;

/** Label stock, all in mm: a page with rows and columns of labels, or a page that is one label. */
export interface SheetLayout {
  pageWidthMm: number;
  pageHeightMm: number;
  widthMm: number;
  heightMm: number;
  rows: number;
  columns: number;
  topMm: number;
  leftMm: number;
  gapXMm: number;
  gapYMm: number;
}

/** Where one label stands: its page (from 0) and its top left corner in mm. */
export interface LabelPlace {
  page: number;
  xMm: number;
  yMm: number;
}

/** Printers and stock are cut to a tenth of a millimetre; this is rounding only. */
const hair = 0.01;

/** Whether all labels lie within the page. */
export function fitsOnPage(sheet: SheetLayout): boolean {
  const right = sheet.leftMm + sheet.columns * sheet.widthMm + (sheet.columns - 1) * sheet.gapXMm;
  const bottom = sheet.topMm + sheet.rows * sheet.heightMm + (sheet.rows - 1) * sheet.gapYMm;
  return right <= sheet.pageWidthMm + hair && bottom <= sheet.pageHeightMm + hair;
}

/** Labels on one page. */
export const labelsAPage = ({ rows, columns }: SheetLayout): number => rows * columns;

/**
 * Places for `count` labels, row by row from the place `first` (1 is the top left one) of the first page, so that a
 * sheet of which some were used can go through again.
 */
export function placesOn(sheet: SheetLayout, count: number, first = 1): LabelPlace[] {
  const perPage = labelsAPage(sheet);
  return Array.from({ length: count }, (_, i) => {
    const at = i + first - 1;
    const onPage = at % perPage;
    const [row, column] = [Math.floor(onPage / sheet.columns), onPage % sheet.columns];
    return {
      page: Math.floor(at / perPage),
      xMm: sheet.leftMm + column * (sheet.widthMm + sheet.gapXMm),
      yMm: sheet.topMm + row * (sheet.heightMm + sheet.gapYMm),
    };
  });
}

/** A page of ISO 216 size A4, mm. */
const A4 = { pageWidthMm: 210, pageHeightMm: 297 };
/** A page of ANSI/ASME Y14.1 size A, which is Letter: 8.5 x 11 in, mm. */
const letter = { pageWidthMm: 215.9, pageHeightMm: 279.4 };

/** The page that a printer holds where nobody says another: Letter where people measure in inches, else A4. */
export const usualPage = (length: 'cm' | 'in'): { pageWidthMm: number; pageHeightMm: number } =>
  length === 'in' ? letter : A4;

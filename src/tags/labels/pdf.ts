import { setImmediate } from 'node:timers/promises';
import bwip from 'bwip-js';
import { openPdf, written } from '../../platform/pdf.ts';
import { placesOn, type SheetLayout } from './label-sheets.rules.ts';
import {
  type LabelText,
  type PictureBox,
  POINTS_PER_MM,
  type SetLabel,
  setLabel,
  type TextMeasure,
} from './typesetting.rules.ts';

/** One label to print: its words and the address its QR code leads to. */
export interface Label {
  text: LabelText;
  address: string;
}

/** What the library has and its types leave out. */
interface Opening {
  openImage(file: Buffer): PDFKit.Mixins.ImageSrc;
}

/** ISO/IEC 18004: a code is surrounded by four modules of white. */
const quietModules = 4;

/** What is printed: labels on a sheet, beginning at a place, with the farm's own mark (PNG) where it has one. */
export interface LabelsToPrint {
  labels: readonly Label[];
  sheet: SheetLayout;
  /** 1 is the top left place of the first page. */
  first?: number;
  mark?: Uint8Array | null;
}

/**
 * A PDF of labels on label stock, one page after the other, true to the millimetre when printed at 100 %.
 * @returns the file's bytes
 */
export async function labelsPdf({
  labels,
  sheet,
  first = 1,
  mark: sent = null,
}: LabelsToPrint): Promise<Buffer> {
  const size: [number, number] = [sheet.pageWidthMm * POINTS_PER_MM, sheet.pageHeightMm * POINTS_PER_MM];
  const { doc, file } = openPdf({ size, title: 'Labels' });
  const measure = measuring(doc);
  // Opened once: the file holds it once, however many labels show it.
  const mark = sent === null ? null : (doc as unknown as Opening).openImage(Buffer.from(sent));
  const places = placesOn(sheet, labels.length, first);
  let page = -1;
  for (const [i, label] of labels.entries()) {
    const place = places[i];
    if (place === undefined) continue;
    for (; page < place.page; page++) doc.addPage();
    doc.save().translate(place.xMm * POINTS_PER_MM, place.yMm * POINTS_PER_MM);
    const set = setLabel(
      { ...label.text, ...(mark === null ? {} : { hasMark: true }) },
      sheet.widthMm,
      sheet.heightMm,
      measure,
    );
    draw(doc, label, set);
    if (mark !== null && set.mark !== null) drawMark(doc, mark, set.mark);
    doc.restore();
    await setImmediate();
  }
  doc.end();
  return file;
}

/** Widths in the embedded face, each looked up once. */
function measuring(doc: PDFKit.PDFDocument): TextMeasure {
  const known = new Map<string, number>();
  return (words, isBold) => {
    const face = isBold ? 'bold' : 'regular';
    const key = `${face} ${words}`;
    const width = known.get(key) ?? doc.font(face).fontSize(100).widthOfString(written(words)) / 100;
    known.set(key, width);
    return width;
  };
}

function drawMark(
  doc: PDFKit.PDFDocument,
  mark: PDFKit.Mixins.ImageSrc,
  { x, y, width, height }: PictureBox,
): void {
  doc.image(mark, x, y, { fit: [width, height], align: 'center', valign: 'bottom' });
}

function draw(doc: PDFKit.PDFDocument, { text, address }: Label, set: SetLabel): void {
  for (const { text: words, x, y, size, bold: isBold } of set.texts) {
    doc.font(isBold ? 'bold' : 'regular').fontSize(size);
    doc.fillColor('black').text(written(words), x, y, { lineBreak: false });
  }
  drawQr(doc, address, set.qr);
  if (set.light && text.pictures?.light) drawLight(doc, set.light, text.pictures.light);
  if (set.flow && text.pictures) drawFlow(doc, set.flow, text.pictures.flow ?? 0);
}

/** Bars from dim to bright, black up to the step at which the piece stood. */
function drawLight(
  doc: PDFKit.PDFDocument,
  box: PictureBox,
  { step, of }: { step: number; of: number },
): void {
  const bar = box.width / of;
  for (let i = 0; i < of; i++) {
    const height = (box.height * (i + 1.5)) / (of + 0.5);
    doc.rect(box.x + i * bar, box.y + box.height - height, bar * 0.7, height);
    if (i <= step) doc.fill('black');
    else doc.lineWidth(0.4).stroke('black');
  }
}

/** Three waves from bottom to top: bold ones for the flow it stood in, thin ones for what is not. */
function drawFlow(doc: PDFKit.PDFDocument, { x, y, width, height }: PictureBox, flow: number): void {
  const [rows, quarter] = [3, width / 4];
  for (let i = 0; i < rows; i++) {
    const line = y + height - (height / rows) * (i + 0.5);
    const bend = height / rows / 2;
    doc.moveTo(x, line);
    for (let at = 0; at < 4; at++) {
      const to = x + (at + 1) * quarter;
      doc.quadraticCurveTo(to - quarter / 2, line + (at % 2 === 0 ? -bend : bend), to, line);
    }
    doc.lineWidth(i < flow ? 1.3 : 0.25).stroke('black');
  }
}

/** The code as one path of squares: sharp at any size, without a picture's grey edges. */
export function drawQr(doc: PDFKit.PDFDocument, address: string, { x, y, side }: SetLabel['qr']): void {
  const [code] = bwip.raw('qrcode', address, 'eclevel=M') as unknown as [{ pixs: number[]; pixx: number }];
  const module = side / (code.pixx + 2 * quietModules);
  const at = (n: number) => (n + quietModules) * module;
  for (const [i, dark] of code.pixs.entries()) {
    if (dark === 1) doc.rect(x + at(i % code.pixx), y + at(Math.floor(i / code.pixx)), module, module);
  }
  doc.fill('black');
}

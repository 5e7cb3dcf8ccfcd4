import { openPdf, written } from '../../platform/pdf.ts';
import { CARD, type CardBox, CORNERS, type Corner, cardPath } from '../../science/photograph/card.ts';
import { drawQr } from '../labels/pdf.ts';
import { POINTS_PER_MM } from '../labels/typesetting.rules.ts';

/** The cards of one rack on one page. */
export interface CardsToPrint {
  rackId: string;
  /** The rack and where it stands, as the cards say it. */
  name: string;
  where: string;
  /** The service's own address. */
  base: string;
  page: { pageWidthMm: number; pageHeightMm: number };
}

const cornerWords: Record<Corner, string> = {
  'back-left': 'back left',
  'back-right': 'back right',
  'front-left': 'front left',
  'front-right': 'front right',
};

/** Where the cards lie on the page, mm: two beside each other, with room for scissors. */
const [LEFT, TOP, GAP] = [22, 60, 16];
export const placeOf = (i: number) => ({
  x: LEFT + (i % 2) * (CARD.width + GAP),
  y: TOP + Math.floor(i / 2) * (CARD.height + GAP),
});

/** A page with the four corner cards of a rack, true to the millimetre when printed at 100 %. */
export async function cardsPdf({ rackId, name, where, base, page }: CardsToPrint): Promise<Buffer> {
  const size: [number, number] = [page.pageWidthMm * POINTS_PER_MM, page.pageHeightMm * POINTS_PER_MM];
  const { doc, file } = openPdf({ size, title: `Corner cards of ${name}` });
  doc.addPage().scale(POINTS_PER_MM);
  const say = (words: string, x: number, y: number, height: number, face = 'regular') =>
    doc.font(face).fontSize(height).fillColor('black').text(written(words), x, y, { lineBreak: false });
  say(`Corner cards of ${name}`, LEFT, 20, 7, 'bold');
  say(where, LEFT, 30, 4.2);
  say('Print at 100 % on matt paper. Cut along the thin lines, laminate matt.', LEFT, 38, 4.2);
  say('The scales must measure 20 mm.', LEFT, 44, 4.2);
  for (const [i, corner] of CORNERS.entries()) {
    const { x, y } = placeOf(i);
    doc.save().translate(x, y);
    drawCard(doc, `${new URL(base).origin.toUpperCase()}${cardPath(rackId, corner)}`);
    say(`${name}, ${cornerWords[corner]}`.slice(0, 46), CARD.text.x, CARD.text.y + 0.4, 3.2, 'bold');
    doc.restore();
  }
  doc.end();
  return file;
}

function drawCard(doc: PDFKit.PDFDocument, address: string): void {
  doc.rect(0, 0, CARD.width, CARD.height).lineWidth(0.1).stroke('#bbbbbb');
  const { x, y, width, height } = CARD.frame;
  const half = CARD.line / 2;
  doc
    .rect(x + half, y + half, width - CARD.line, height - CARD.line)
    .lineWidth(CARD.line)
    .stroke('black');
  drawQr(doc, address, { x: CARD.code.x, y: CARD.code.y, side: CARD.code.width });
  const { white, grey, black } = CARD.patches;
  const box = ({ x: left, y: top, width: wide, height: high }: CardBox) => doc.rect(left, top, wide, high);
  box(white).lineWidth(0.1).stroke('#bbbbbb');
  box(grey).fill('#808080');
  box(black).fill('black');
  drawScale(doc, CARD.scale);
}

/** A line of 20 mm with a mark at each millimetre, longer at each fifth. */
function drawScale(doc: PDFKit.PDFDocument, { x, y, width, height }: CardBox): void {
  for (let mm = 0; mm <= width; mm++) {
    const long = mm % 10 === 0 ? 1 : mm % 5 === 0 ? 0.75 : 0.45;
    doc.moveTo(x + mm, y + height).lineTo(x + mm, y + height * (1 - long));
  }
  doc
    .moveTo(x, y + height)
    .lineTo(x + width, y + height)
    .lineWidth(0.15)
    .stroke('black');
}

import { openPdf, written } from '../../platform/pdf.ts';

/** A paper of an order, ready to be set: words alone. */
export interface Paper {
  title: string;
  /** The farm, then the buyer: each a few lines. */
  from: string[];
  to: string[];
  /** "Order 12", "24 Nov 2026". */
  facts: { label: string; text: string }[];
  columns: { text: string; share: number; isRight?: boolean }[];
  rows: string[][];
  /** Beneath the table, the last one in bold: "Sum", "EUR 62.00". */
  sums: { label: string; text: string }[];
  notes: string[];
}

const POINTS_PER_MM = 72 / 25.4;
/** A4 (ISO 216), and its margins (own choice), in points. */
const page = { width: 210 * POINTS_PER_MM, height: 297 * POINTS_PER_MM, margin: 18 * POINTS_PER_MM };
const inner = page.width - 2 * page.margin;
const body = 9.5;
const gap = 4;

type Doc = PDFKit.PDFDocument;

/** A receipt or a packing list as a PDF of A4 pages. The head of the table stands on each page. */
export async function paperPdf(paper: Paper): Promise<Buffer> {
  const { doc, file } = openPdf({ size: [page.width, page.height], title: paper.title });
  doc.addPage();
  let y = head(doc, paper);
  y = tableHead(doc, paper, y);
  for (const row of paper.rows) {
    const height = rowHeight(doc, paper, row);
    if (y + height > page.height - page.margin) {
      doc.addPage();
      y = tableHead(doc, paper, page.margin);
    }
    cells(doc, paper, row, y, false);
    y += height + gap;
  }
  foot(doc, paper, y + gap);
  doc.end();
  return file;
}

function lines(doc: Doc, texts: readonly string[], x: number, y: number, width: number): number {
  let at = y;
  for (const text of texts) {
    doc.font('regular').fontSize(body).text(written(text), x, at, { width });
    at += doc.heightOfString(written(text), { width }) + 1;
  }
  return at;
}

function head(doc: Doc, { title, from, to, facts }: Paper): number {
  const { margin } = page;
  doc.fillColor('black').font('bold').fontSize(20).text(written(title), margin, margin, { width: inner });
  const top = margin + 34;
  const half = inner / 2 - 10;
  const left = lines(doc, from, margin, top, half);
  const right = lines(doc, to, margin + inner / 2, top, half);
  const said = facts.map(({ label, text }) => `${label}: ${text}`);
  return lines(doc, said, margin, Math.max(left, right) + 10, inner) + 14;
}

function boxes({ columns }: Paper) {
  const all = columns.reduce((sum, { share }) => sum + share, 0);
  let x = page.margin;
  return columns.map(({ share, isRight }) => {
    const width = (inner * share) / all;
    const box = { x, width: width - 6, align: isRight === true ? ('right' as const) : ('left' as const) };
    x += width;
    return box;
  });
}

function cells(doc: Doc, paper: Paper, row: readonly string[], y: number, isBold: boolean): void {
  doc.font(isBold ? 'bold' : 'regular').fontSize(body);
  for (const [i, { x, width, align }] of boxes(paper).entries())
    doc.text(written(row[i] ?? ''), x, y, { width, align });
}

function rowHeight(doc: Doc, paper: Paper, row: readonly string[]): number {
  doc.font('regular').fontSize(body);
  return Math.max(
    ...boxes(paper).map(({ width }, i) => doc.heightOfString(written(row[i] || ' '), { width })),
  );
}

function tableHead(doc: Doc, paper: Paper, y: number): number {
  const titles = paper.columns.map(({ text }) => text);
  cells(doc, paper, titles, y, true);
  const under = y + rowHeight(doc, paper, titles) + 2;
  doc
    .moveTo(page.margin, under)
    .lineTo(page.margin + inner, under)
    .lineWidth(0.6)
    .stroke('black');
  return under + gap;
}

function foot(doc: Doc, { sums, notes }: Paper, from: number): void {
  let y = from;
  const room = (sums.length + notes.length + 1) * 16;
  if (y + room > page.height - page.margin) {
    doc.addPage();
    y = page.margin;
  }
  for (const [i, { label, text }] of sums.entries()) {
    doc.font(i === sums.length - 1 ? 'bold' : 'regular').fontSize(body + 0.5);
    doc.text(written(label), page.margin, y, { width: inner * 0.7, align: 'right' });
    doc.text(written(text), page.margin + inner * 0.72, y, { width: inner * 0.28 - 6, align: 'right' });
    y += 16;
  }
  lines(doc, notes, page.margin, y + 12, inner);
}

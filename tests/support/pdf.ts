import { createCanvas } from '@napi-rs/canvas';
import jsqr from 'jsqr';
import { getDocument } from 'pdfjs-dist/legacy/build/pdf.mjs';

/** One page of a PDF, drawn. */
export interface DrawnPage {
  widthMm: number;
  heightMm: number;
  /** Its texts in order, as a reader finds them. */
  texts: string[];
  /** What the QR code within this part of the page (mm; the whole page by default) says; null where none is read. */
  qr(part?: { xMm: number; yMm: number; widthMm: number; heightMm: number }): string | null;
}

const pointsPerMm = 72 / 25.4;

/** Draws a PDF's pages as a printer would, at `dpi`, with a reader of its own. */
export async function drawPdf(file: Uint8Array, dpi = 300): Promise<DrawnPage[]> {
  const pdf = await getDocument({ data: new Uint8Array(file), verbosity: 0 }).promise;
  const pages: DrawnPage[] = [];
  for (let number = 1; number <= pdf.numPages; number++) {
    const page = await pdf.getPage(number);
    const viewport = page.getViewport({ scale: dpi / 72 });
    const canvas = createCanvas(Math.ceil(viewport.width), Math.ceil(viewport.height));
    const canvasContext = canvas.getContext('2d');
    await page.render({ canvasContext: canvasContext as never, canvas: null, viewport }).promise;
    const { items } = await page.getTextContent();
    const [, , width = 0, height = 0] = page.view;
    pages.push({
      widthMm: width / pointsPerMm,
      heightMm: height / pointsPerMm,
      texts: items.flatMap((item) => ('str' in item && item.str.trim() !== '' ? [item.str] : [])),
      qr(part) {
        const px = (mm: number) => Math.round((mm / 25.4) * dpi);
        const [x, y] = part === undefined ? [0, 0] : [px(part.xMm), px(part.yMm)];
        const w = part === undefined ? canvas.width : px(part.widthMm);
        const h = part === undefined ? canvas.height : px(part.heightMm);
        const { data } = canvasContext.getImageData(x, y, w, h);
        return jsqr.default(new Uint8ClampedArray(data), w, h)?.data ?? null;
      },
    });
  }
  return pages;
}

import { createRequire } from 'node:module';
import PDFDocument from 'pdfkit';

const require = createRequire(import.meta.url);
const faces = '@expo-google-fonts/atkinson-hyperlegible-next';
const regular = require.resolve(`${faces}/400Regular/AtkinsonHyperlegibleNext_400Regular.ttf`);
const bold = require.resolve(`${faces}/700Bold/AtkinsonHyperlegibleNext_700Bold.ttf`);

/**
 * A PDF without pages yet, in the house's face ("regular", "bold"), and its bytes once `doc.end()` was called.
 * @param size of a page, in points
 */
export function openPdf({ size, title }: { size: [number, number]; title: string }): {
  doc: PDFKit.PDFDocument;
  file: Promise<Buffer>;
} {
  const doc = new PDFDocument({ size, margin: 0, autoFirstPage: false, info: { Title: title } });
  const file = collected(doc);
  doc.registerFont('regular', regular).registerFont('bold', bold);
  return { doc, file };
}

function collected(doc: PDFKit.PDFDocument): Promise<Buffer> {
  const chunks: Buffer[] = [];
  return new Promise((resolve, reject) => {
    doc.on('data', (chunk: Buffer) => chunks.push(chunk));
    doc.on('end', () => resolve(Buffer.concat(chunks)));
    doc.on('error', reject);
  });
}

/** The face has no lowered figures and no micro sign: NO₃ is written NO3, and µ (U+00B5) as the Greek letter (U+03BC). */
export const written = (words: string) => words.replace(/[₀-₉µ]/g, (sign) => sign.normalize('NFKD'));

/** What the face has signs for, as far as people type it; a test holds it to the face's own table. */
const inFace =
  /^[ -~\u00a0-\u00ac\u00ae-\u00b4\u00b6-\u0107\u010a-\u0113\u0116-\u011b\u011e-\u0123\u0126\u0127\u012a\u012b\u012e-\u0133\u0136\u0137\u0139-\u013e\u0141-\u0148\u0150-\u0155\u0158-\u015b\u015e-\u0165\u016a\u016b\u016e-\u017e\u0218-\u021b\u03bc\u2013\u2014\u2018-\u201a\u201c-\u201e\u2026\u20ac]*$/;

/** Whether a PDF can show a text; letters that the face lacks come out as empty boxes. */
export const isPrintable = (words: string): boolean => inFace.test(written(words));

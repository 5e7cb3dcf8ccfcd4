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

/** The face has no lowered figures: NO₃ is written NO3. */
export const written = (words: string) => words.replace(/[₀-₉]/g, (figure) => figure.normalize('NFKD'));

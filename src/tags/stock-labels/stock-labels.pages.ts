import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { isPrintable } from '../../platform/pdf.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { inputPaper, paperWords } from '../../platform/units/measures.ts';
import { unitsNow } from '../../platform/units/units.ts';
import { fieldErrors } from '../../platform/views/field-errors.ts';
import { freshForm, refusedForm } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { publicAddress } from '../../platform/web/public-address.ts';
import { ticksOf, ticksText } from '../../stock/base/ticks.ts';
import { tickedLots } from '../../stock/lots/ticked-lots.ts';
import { listRacks } from '../../stock/places/free-slots.ts';
import { fitsOnPage, labelsAPage, type SheetLayout, usualPage } from '../labels/label-sheets.rules.ts';
import { findSheet, listSheets } from '../labels/label-sheets.ts';
import { printedBase, sheetWords } from '../labels/labels.pages.ts';
import { MOST_LABELS } from '../labels/labels.ts';
import type { Label } from '../labels/pdf.ts';
import { printLabels } from '../labels/printing.ts';
import { findMark } from '../mark/mark.ts';
import { filledPage, isLargeEnough, LEAST_LABEL_MM } from './sheet-choice.rules.ts';
import { type Labelled, type StockPrinting, stockPrintingSchema } from './stock-labels.schema.ts';
import { labelsOfLots, labelsOfRacks } from './stock-labels.ts';

/** Labels for lots and slots, and signs for racks, as a PDF. Nothing is written down: they can be printed again. */
export function stockLabelPages(app: FastifyInstance, service: Service): void {
  app.get('/labels', (request, reply) => showForm(service, request, reply));
  app.get('/labels.pdf', (request, reply) => sendPdf(service, request, reply));
}

const listOf = (value: unknown): string[] => [value ?? []].flat().map(String);

async function showForm(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  errors: { field: string; message: string }[] = [],
) {
  const asked = request.query as Record<string, unknown>;
  const codes = ticksOf(asked);
  const [sheets, racks, lots] = await Promise.all([
    listSheets(service.db),
    listRacks(service.pool, request.site.id),
    tickedLots(service.pool, request.site.id, codes),
  ]);
  const chosen = listOf(asked.rack);
  const usual = usualPage(unitsNow().length);
  const begins = {
    what: lots.length > 0 ? 'lots' : 'racks',
    sheet: sheets[0]?.id ?? '',
    first: 1,
    copies: 1,
  };
  const form =
    errors.length === 0
      ? freshForm({
          ...begins,
          rows: '',
          columns: '',
          pageWidthMm: '',
          pageHeightMm: '',
          hereAlone: '',
          ...onlyText(asked),
        })
      : refusedForm(asked, errors);
  const data = {
    lots,
    ticked: ticksText(codes),
    unprintable: unprintable(
      lots.length > 0
        ? lots.flatMap(({ called, tradeName }) => [called, tradeName])
        : racks.map(({ name }) => name),
    ),
    racks: racks.map((rack) => ({ ...rack, chosen: chosen.includes(rack.id) })),
    sheets: sheets.map((sheet) => ({ value: sheet.id, text: `${sheet.name}: ${sheetWords(sheet)}` })),
    kinds: whatChoices(lots.length > 0),
    usual: { width: inputPaper(usual.pageWidthMm), height: inputPaper(usual.pageHeightMm) },
    reach: publicAddress(service.config, request),
  };
  const options = { title: 'Print labels and signs', area: 'stock', form } as const;
  return showPage(service, request, reply, 'tags/stock-labels', data, options);
}

/** Codes and names that would come out as empty boxes, each once. */
const unprintable = (names: readonly string[]): string[] => [
  ...new Set(names.filter((name) => !isPrintable(name))),
];

/** What the address fills in of the form. */
const onlyText = (asked: Record<string, unknown>) =>
  Object.fromEntries(
    Object.entries(asked).filter(([name, value]) => name === 'what' && typeof value === 'string'),
  );

function whatChoices(hasLots: boolean): { value: Labelled; text: string }[] {
  const ofRacks: { value: Labelled; text: string }[] = [
    { value: 'racks', text: 'A sign for each rack' },
    { value: 'slots', text: 'A label for each slot of the racks' },
    { value: 'rack-lots', text: 'A label for each lot on the racks' },
  ];
  return hasLots ? [{ value: 'lots', text: 'A label for each ticked lot' }, ...ofRacks] : ofRacks;
}

async function sendPdf(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const parsed = stockPrintingSchema.safeParse(request.query);
  if (!parsed.success) {
    reply.status(422);
    return showForm(service, request, reply, fieldErrors(parsed.error));
  }
  try {
    const base = printedBase(service, request, parsed.data.hereAlone);
    const sheet = await sheetOf(service, parsed.data);
    const labels = await askedLabels(service, request, parsed.data, base);
    const mark = (await findMark(service.db, request.site.id))?.image ?? null;
    const file = await printLabels({
      labels,
      sheet,
      mark,
      first: Math.min(parsed.data.first, labelsAPage(sheet)),
    });
    return reply
      .type('application/pdf')
      .header('content-disposition', 'inline; filename="labels.pdf"')
      .send(file);
  } catch (error) {
    if (!(error instanceof Refusal) || error.status === 404) throw error;
    reply.status(error.status);
    return showForm(service, request, reply, error.fields);
  }
}

/** @throws Refusal where the labels are too small for a code, or do not fit on the page */
async function sheetOf(service: Service, asked: StockPrinting): Promise<SheetLayout> {
  const { rows, columns, sheet: id } = asked;
  const sheet =
    rows !== null && columns !== null
      ? filledPage({ ...asked, rows, columns }, usualPage(unitsNow().length))
      : await findSheet(service.db, id ?? '');
  if (!isLargeEnough(sheet) || !fitsOnPage(sheet)) {
    throw new Refusal(
      `Labels of this sheet are too small for a code that can be scanned. Take labels of at least ${paperWords(LEAST_LABEL_MM.width, LEAST_LABEL_MM.height)}.`,
      { field: rows === null ? 'sheet' : 'rows' },
    );
  }
  return sheet;
}

/** @throws Refusal where there are none, or too many for one file */
async function askedLabels(
  service: Service,
  request: FastifyRequest,
  asked: StockPrinting,
  base: string,
): Promise<Label[]> {
  const { what, rack, price, copies } = asked;
  const about = { what, base, price };
  const now = service.now();
  const each =
    what === 'lots'
      ? await labelsOfLots(
          service.pool,
          { siteId: request.site.id, codes: ticksOf(request.query) },
          about,
          now,
        )
      : await labelsOfRacks(service.pool, rack, about, now);
  if (each.length === 0) {
    const message = what === 'lots' ? 'No lot is ticked.' : 'Tick at least one rack that has some.';
    throw new Refusal(message, { field: 'what' });
  }
  if (each.length * copies > MOST_LABELS)
    throw new Refusal(
      `That is ${each.length * copies} labels; at most ${MOST_LABELS} are printed at once. Choose fewer racks or lots.`,
      { field: 'copies' },
    );
  return each.flatMap((label) => Array.from({ length: copies }, () => label));
}

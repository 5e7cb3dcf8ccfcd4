import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { inputPaper, paperWords } from '../../platform/units/measures.ts';
import { unitsNow } from '../../platform/units/units.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { confirmReach, publicAddress } from '../../platform/web/public-address.ts';
import { pathId } from '../../platform/web/requests.ts';
import { findMark } from '../mark/mark.ts';
import { namedTags } from '../tags/tags.ts';
import { labelsAPage, type SheetLayout, usualPage } from './label-sheets.rules.ts';
import { addSheet, findSheet, listSheets, retireSheet } from './label-sheets.ts';
import { printingSchema, sheetSchema } from './labels.schema.ts';
import { labelsOf, notePrinting } from './labels.ts';
import { printLabels } from './printing.ts';

/** Labels as a PDF, and the sheets they are printed on. */
export function labelPages(app: FastifyInstance, service: Service): void {
  app.get('/tags/labels', (request, reply) => showLabels(service, request, reply));
  app.post('/tags/labels', takes(printingSchema), (request, reply) => postLabels(service, request, reply));
  app.get('/tags/labels.pdf', (request, reply) => sendLabels(service, request, reply));
  app.get('/tags/sheets', (request, reply) => showSheets(service, request, reply));
  app.post('/tags/sheets', takes(sheetSchema), (request, reply) => postSheet(service, request, reply));
  app.post('/tags/sheets/:id/retirement', (request, reply) => postRetirement(request, reply));
}

const listOf = (value: unknown): string[] =>
  (Array.isArray(value) ? value : [value]).filter((one): one is string => typeof one === 'string');

async function showLabels(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const sheets = await listSheets(service.db);
  const asked = listOf(refused === undefined ? (request.query as { tag?: unknown }).tag : refused.typed.of);
  const ticked = refused === undefined ? asked : listOf(refused.typed.tag);
  const form =
    refused ?? freshForm({ sheet: sheets[0]?.id ?? '', first: 1, copies: '', price: '', hereAlone: '' });
  const data = {
    tags: (await namedTags(service.db, asked)).map((tag) => ({
      ...tag,
      ticked: !tag.withdrawn && ticked.includes(tag.id),
    })),
    sheets: sheets.map(({ id, name }) => ({ value: id, text: name })),
    reach: publicAddress(service.config, request),
  };
  return showPage(service, request, reply, 'tags/labels', data, {
    title: 'Print labels',
    area: 'tags',
    form,
  });
}

/** The address on the labels. @throws Refusal 409 where there is none; 422 where it opens here alone and nobody confirmed that */
export function printedBase(service: Service, request: FastifyRequest, hereAlone: boolean): string {
  const address = publicAddress(service.config, request);
  if (address.base === null) throw new Refusal(address.warning ?? '', { status: 409 });
  confirmReach(address, hereAlone);
  return address.base;
}

async function postLabels(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: printingSchema,
    act: async (work, { tag, sheet, first, copies, price, hereAlone }) => {
      const printing = { tagIds: tag, sheetId: sheet, first, copies, price };
      const base = printedBase(service, request, hereAlone);
      await labelsOf(service.db, printing, base, request.site.timeZone);
      await notePrinting(work, printing);
    },
    done: (_, { tag, sheet, first, copies, price, hereAlone }) => {
      const query = new URLSearchParams([
        ...tag.map((id) => ['tag', id]),
        ['sheet', sheet],
        ['first', String(first)],
      ]);
      if (copies !== null) query.set('copies', String(copies));
      if (price) query.set('price', 'yes');
      if (hereAlone) query.set('hereAlone', 'yes');
      return { to: `/tags/labels.pdf?${query}` };
    },
    again: (form) => showLabels(service, request, reply, form),
  });
}

async function sendLabels(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { tag, sheet: sheetId, first, copies, price, hereAlone } = printingSchema.parse(request.query);
  const sheet = await findSheet(service.db, sheetId);
  const base = printedBase(service, request, hereAlone);
  const labels = await labelsOf(service.db, { tagIds: tag, copies, price }, base, request.site.timeZone);
  const mark = (await findMark(service.db, request.site.id))?.image ?? null;
  const place = Math.min(first, labelsAPage(sheet));
  return reply
    .type('application/pdf')
    .header('content-disposition', 'inline; filename="labels.pdf"')
    .send(await printLabels({ labels, sheet, first: place, mark }));
}

/** "3 x 8 labels of 70 x 37 mm on 210 x 297 mm". */
export function sheetWords(sheet: SheetLayout): string {
  const { rows, columns, widthMm, heightMm, pageWidthMm, pageHeightMm } = sheet;
  if (rows * columns === 1) return `one label of ${paperWords(widthMm, heightMm)} a page`;
  return `${columns} x ${rows} labels of ${paperWords(widthMm, heightMm)} on ${paperWords(pageWidthMm, pageHeightMm)}`;
}

async function showSheets(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const sheets = await listSheets(service.db);
  const page = usualPage(unitsNow().length);
  const whole = {
    ...{ pageWidthMm: inputPaper(page.pageWidthMm), pageHeightMm: inputPaper(page.pageHeightMm) },
    ...{ topMm: 0, leftMm: 0, gapXMm: 0, gapYMm: 0 },
  };
  const form = refused ?? freshForm({ name: '', widthMm: '', heightMm: '', rows: '', columns: '', ...whole });
  const data = {
    sheets: sheets.map((sheet) => ({ id: sheet.id, name: sheet.name, words: sheetWords(sheet) })),
  };
  return showPage(service, request, reply, 'tags/sheets', data, {
    title: 'Label sheets',
    area: 'tags',
    form,
  });
}

async function postSheet(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: sheetSchema,
    act: (work, value) => addSheet(work, value),
    done: () => ({ to: '/tags/sheets', notice: 'Sheet saved.' }),
    again: (form) => showSheets(service, request, reply, form),
  });
}

async function postRetirement(request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This sheet');
  await request.change((work) => retireSheet(work, id));
  return reply.redirect('/tags/sheets', 303);
}

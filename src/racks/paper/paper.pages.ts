import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { findRack } from '../../farm/racks/racks.ts';
import { qrCode } from '../../platform/charts/qr.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { publicAddress } from '../../platform/web/public-address.ts';
import { plural } from '../../platform/words/numbers.ts';
import { ticksOf, ticksText } from '../../stock/base/ticks.ts';
import { conditionChoices } from '../../stock/lots/conditions.schema.ts';
import { slotOccupancy } from '../../stock/places/occupancy.ts';
import { tickedLots } from '../../stock/several/ticked-lots.ts';
import { drawRack } from '../drawing/rack-drawing.ts';
import { layOutRack } from '../drawing/rack-layout.rules.ts';
import { listedCodes, MOST_ON_PAPER } from './listed-codes.ts';
import { typedLinesSchema } from './typed-lines.schema.ts';
import { enterLines } from './typed-lines.ts';

/** Lists of lots to print and take along, and typing in what was written on them, in the same order. */
export function paperPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/paper', (request, reply) => showPaper(service, request, reply));
  app.get('/stock/paper/typing', (request, reply) => showTyping(service, request, reply));
  app.post('/stock/paper/typing', (request, reply) => postTyping(service, request, reply));
}

/** The most lots whose codes still make a QR code that is read from paper (own choice). */
const MOST_IN_CODE = 60;

/** Racks drawn with the codes of their lots. */
async function drawn(service: Service, { site }: FastifyRequest, rackIds: readonly string[]) {
  const now = service.now();
  const [racks, slots] = await Promise.all([
    Promise.all(rackIds.map((id) => findRack(service.db, id))),
    slotOccupancy(service.pool, rackIds, now),
  ]);
  const slotsOf = Map.groupBy(slots, ({ rackId }) => rackId);
  return racks.map(({ id, rows, columns, base, name }) => {
    const shown = { rows, columns, base, view: 'kind' as const, timeZone: site.timeZone };
    const layout = layOutRack(slotsOf.get(id) ?? [], { ...shown, now, extrapolated: new Set() });
    return { name, picture: drawRack(layout, name, () => null) };
  });
}

async function showPaper(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { codes, rackIds } = await listedCodes(service, request.site, request.query);
  const shown = codes.slice(0, MOST_ON_PAPER);
  const lots = await tickedLots(service.pool, request.site.id, shown);
  const racks = await drawn(service, request, rackIds);
  const typing = `/stock/paper/typing?ticked=${ticksText(shown)}`;
  const { base, hereAlone } = publicAddress(service.config, request);
  const opens = base !== null && !hereAlone && shown.length <= MOST_IN_CODE && shown.length > 0;
  const data = {
    lots: lots.map((lot, i) => ({ ...lot, line: i + 1 })),
    racks,
    typing,
    now: service.now(),
    qr: opens ? qrCode(new URL(typing, base).href) : '',
    cut: codes.length > MOST_ON_PAPER ? MOST_ON_PAPER : '',
  };
  const scripts = ['/assets/paper.js'];
  return showPage(service, request, reply, 'racks/paper', data, {
    title: 'List to take along',
    area: 'stock',
    scripts,
  });
}

const emptyLine = (code: string) => [
  [`state_${code}`, ''],
  [`pieces_${code}`, ''],
  [`size_${code}`, ''],
  [`note_${code}`, ''],
];

async function showTyping(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const codes = ticksOf(refused === undefined ? request.query : request.body);
  const lots = await tickedLots(service.pool, request.site.id, codes);
  const form = refused ?? freshForm({ at: '', ...Object.fromEntries(codes.flatMap(emptyLine)) });
  const typed = (name: string) => [form.typed[name] ?? ''].flat()[0] ?? '';
  const wrong = (name: string) => form.errors.find(({ field }) => field === name)?.message ?? '';
  const fieldOf = (name: string) => ({ name, value: typed(name), error: wrong(name) });
  const data = {
    ticked: ticksText(codes),
    states: conditionChoices,
    lines: lots.map((lot, i) => ({
      ...lot,
      line: i + 1,
      state: fieldOf(`state_${lot.code}`),
      count: fieldOf(`pieces_${lot.code}`),
      size: fieldOf(`size_${lot.code}`),
      note: fieldOf(`note_${lot.code}`),
    })),
  };
  const scripts = ['/assets/paper.js'];
  const options = { title: 'Type in from paper', area: 'stock' as const, scripts, form };
  return showPage(service, request, reply, 'racks/paper-typing', data, options);
}

async function postTyping(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const codes = ticksOf(request.body);
  return submit(request, reply, {
    schema: typedLinesSchema(codes, request.site.timeZone, service.now()),
    act: (work, value) => enterLines(work, request.site.id, value),
    done: ({ count }) => ({ to: '/stock', notice: `Typed in: ${plural(count, 'lot', 'lots')}.` }),
    again: (form) => showTyping(service, request, reply, form),
  });
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { findRack } from '../../farm/racks/racks.ts';
import { qrCode } from '../../platform/charts/qr.ts';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { optionalText } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { publicAddress } from '../../platform/web/public-address.ts';
import { plural } from '../../platform/words/numbers.ts';
import { ticksOf, ticksText } from '../../stock/base/ticks.ts';
import { conditionChoices } from '../../stock/lots/conditions.schema.ts';
import { tickedLots } from '../../stock/lots/ticked-lots.ts';
import { slotOccupancy } from '../../stock/places/occupancy.ts';
import { drawRack } from '../drawing/rack-drawing.ts';
import { layOutRack } from '../drawing/rack-layout.rules.ts';
import { listedCodes, MOST_ON_PAPER } from './listed-codes.ts';
import { typedLinesSchema } from './typed-lines.schema.ts';
import { enterLines } from './typed-lines.ts';

/** Lists of lots to print and take along, and typing in what was written on them, in the same order. */
export function paperPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/paper', (request, reply) => showPaper(service, request, reply));
  app.get('/stock/paper/typing', (request, reply) => showTyping(service, request, reply));
  app.post(
    '/stock/paper/typing',
    takes(({ timeZone, now }) => typedLinesSchema(['CODE'], timeZone, now)),
    (request, reply) => postTyping(service, request, reply),
  );
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
    shortened: shortenedWords(lots.length, racks.length),
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

/** The lines that are typed in on one page; the others follow after it is saved (own choice: some screens of a phone). */
const LINES_AT_ONCE = 14;

const typingSchema = z.object({
  /** Codes of the lots on the pages after this one. */
  later: optionalText(20_000),
  /** Number of the first line on this page. */
  line: z.coerce.number().int().min(1).max(10_000).catch(1),
  at: optionalText(40).catch(''),
});

/** Where the lines after these are typed in; '' where none is left. */
const laterPath = (codes: readonly string[], line: number, at: string) =>
  codes.length === 0
    ? ''
    : `/stock/paper/typing?${new URLSearchParams({ ticked: ticksText(codes), line: String(line), at })}`;

/** What a phone leaves out of the list on its screen, as the style sheet has it; '' where nothing is. */
function shortenedWords(lots: number, racks: number): string {
  if (lots <= 20 && racks <= 3) return '';
  const drawn = racks <= 3 ? '' : ` and ${racks} racks`;
  return `Shown on a phone: the start of the list. The print has all of it, ${plural(lots, 'lot', 'lots')}${drawn}, with room to write.`;
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
  const asked = refused === undefined ? request.query : request.body;
  const { line, at, later: laterText } = typingSchema.parse(asked ?? {});
  const all = ticksOf(asked);
  const codes = refused === undefined ? all.slice(0, LINES_AT_ONCE) : all;
  const later = refused === undefined ? all.slice(LINES_AT_ONCE) : ticksOf({ ticked: laterText });
  const lots = await tickedLots(service.pool, request.site.id, codes);
  const form = refused ?? freshForm({ at, ...Object.fromEntries(codes.flatMap(emptyLine)) });
  const typed = (name: string) => [form.typed[name] ?? ''].flat()[0] ?? '';
  const wrong = (name: string) => form.errors.find(({ field }) => field === name)?.message ?? '';
  const fieldOf = (name: string) => ({ name, value: typed(name), error: wrong(name) });
  const data = {
    ticked: ticksText(codes),
    first: line,
    later: ticksText(later),
    left: later.length,
    skip: laterPath(later, line + codes.length, ''),
    states: conditionChoices,
    lines: lots.map((lot, i) => ({
      ...lot,
      line: line + i,
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
  const { line, at, later: laterText } = typingSchema.parse(request.body ?? {});
  const later = ticksOf({ ticked: laterText });
  const next = laterPath(later, line + codes.length, at);
  const left = later.length === 0 ? '' : ` ${plural(later.length, 'line is', 'lines are')} left.`;
  return submit(request, reply, {
    schema: typedLinesSchema(codes, request.site.timeZone, service.now()),
    act: (work, value) => enterLines(work, request.site.id, value),
    done: ({ count }) => ({
      to: next === '' ? '/stock' : next,
      notice: `Typed in: ${plural(count, 'lot', 'lots')}.${left}`,
    }),
    again: (form) => showTyping(service, request, reply, form),
  });
}

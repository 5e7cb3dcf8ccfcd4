import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { levelWords } from '../../platform/units/everyday.ts';
import { unitText } from '../../platform/units/units.ts';
import { pageNumber } from '../../platform/web/fields.ts';
import { sentFiles, takeFiles } from '../../platform/web/files.ts';
import { type FormState, freshForm, refusedForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { hourMs } from '../../science/numeric/time.ts';
import { lotHref } from '../base/lot-href.ts';
import {
  attachPictures,
  largestFile,
  largestPictures,
  mostPictures,
  picturesOf,
} from '../files/attached-files.ts';
import { kindNames } from '../kinds/kinds.ts';
import type { HeldAbove } from '../lots/resting.ts';
import { pestOf } from '../pests/pests.rules.ts';
import type { TemperaturesOf } from '../pests/tasks.ts';
import { PURPOSE_WORDS, PURPOSES } from '../quarantine/purposes.rules.ts';
import { boxUnits } from './box-water.ts';
import {
  claimResultSchema,
  claimSchema,
  deliverySchema,
  emptyLine,
  LIGHT_KNOWN,
  takenBackSchema,
} from './deliveries.schema.ts';
import { findDelivery, makeClaim, receiveDelivery, settleClaim } from './deliveries.ts';
import { deliveriesOf, pestsOf, quarantineTanks } from './list.ts';
import { supplierRow, supplierSums } from './suppliers.ts';
import { restingOnDelivery, takeDeliveryBack } from './taking-back.ts';

/** Deliveries that came in: the list with suppliers, one form for many lots, one delivery with its claim and its way back. */
export async function deliveryPages(
  app: FastifyInstance,
  service: Service,
  heldAbove: readonly HeldAbove[],
  temperaturesOf: TemperaturesOf,
): Promise<void> {
  const show: Show = (request, reply, form) => showOne({ service, heldAbove }, request, reply, form);
  app.get('/stock/deliveries', (request, reply) => showList(service, request, reply));
  app.get('/stock/deliveries/new', (request, reply) => showNew(service, request, reply));
  app.post(
    '/stock/deliveries',
    takes(({ timeZone, now }) => deliverySchema(1, timeZone, now, { temperature: 'degC', salinity: 'g/kg' })),
    (request, reply) => postNew({ service, temperaturesOf }, request, reply),
  );
  app.get('/stock/deliveries/:id', (request, reply) => show(request, reply));
  await app.register(async (scope) => {
    await takeFiles(scope, largestFile, { files: mostPictures, fields: 10 });
    scope.post(
      '/stock/deliveries/:id/claim',
      { ...takes(claimSchema), bodyLimit: largestPictures },
      (request, reply) => postClaim(show, request, reply),
    );
  });
  app.post('/stock/deliveries/:id/claim-result', takes(claimResultSchema), (request, reply) =>
    postResult(show, request, reply),
  );
  app.post('/stock/deliveries/:id/taking-back', takes(takenBackSchema), (request, reply) =>
    postBack(heldAbove, show, request, reply),
  );
}

/** Draws one delivery, again where one of its forms was refused. */
type Show = (request: FastifyRequest, reply: FastifyReply, form?: FormState) => unknown;

const hrefOf = (id: string) => `/stock/deliveries/${id}`;
const idOf = (request: FastifyRequest) => pathId(request, 'id', 'This delivery');

async function showList(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const now = service.now();
  const [deliveries, sums] = await Promise.all([
    deliveriesOf(service.pool, request.site.id),
    supplierSums(service.pool, request.site.id, now),
  ]);
  const data = {
    suppliers: sums.map(supplierRow),
    rows: deliveries.map((one) => ({
      ...one,
      href: hrefOf(one.id),
      pieces: `${plural(one.counted, 'piece', 'pieces')} in ${plural(one.lots, 'lot', 'lots')}`,
      claim: one.voidReason === null ? claimOf(one, now) : { text: `Taken back: ${one.voidReason}` },
    })),
  };
  return showPage(service, request, reply, 'stock/deliveries', data, { title: 'Deliveries', area: 'stock' });
}

interface Claimable {
  cameAt: Date;
  claimHours: number | null;
  claimedAt: Date | null;
  claimResult: string;
}

/** The sum of what is said; "not said" where nothing is. */
function saidOf(numbers: readonly (number | null)[]): string {
  const said = numbers.filter((one) => one !== null);
  return said.length === 0 ? 'not said' : numberWords(said.reduce((sum, one) => sum + one, 0));
}

/** Where a claim stands, and until when one can be made. */
function claimOf({ cameAt, claimHours, claimedAt, claimResult }: Claimable, now: Date) {
  if (claimResult !== '') return { text: `Settled: ${claimResult}`, until: null, severity: null };
  if (claimedAt !== null) {
    const isLate = claimHours !== null && claimedAt.getTime() > cameAt.getTime() + claimHours * hourMs;
    return { text: `Claim made${isLate ? ' after its time' : ''}, not settled`, until: null, severity: null };
  }
  if (claimHours === null) return { text: 'No time agreed', until: null, severity: null };
  const until = new Date(cameAt.getTime() + claimHours * hourMs);
  if (until <= now) return { text: 'Time for a claim is over', until: null, severity: null };
  return { text: 'Claim possible until', until, severity: 'today' as const };
}

/** How many lots the form has room for at first, how many are added at once, and at most (own choice). */
const [fewLines, moreLines, mostLines] = [3, 6, 40];
const linesAsked = (asked: unknown) => Math.min(mostLines, Math.max(1, pageNumber(fewLines).parse(asked)));

const emptyForm = {
  ...{ supplier: '', at: '', hours: '', boxDegC: '', boxSalinity: '', claimHours: '', tank: '' },
  ...{ purpose: 'observe', note: '', despite: '' },
};

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const source = (refused?.typed ?? request.query ?? {}) as { lines?: unknown };
  const count = linesAsked(source.lines);
  const numbers = Array.from({ length: count }, (_, i) => i + 1);
  const [kinds, tanks, sums, units] = await Promise.all([
    kindNames(service.db),
    quarantineTanks(service.pool, request.site.id),
    supplierSums(service.pool, request.site.id, service.now()),
    boxUnits(service.pool),
  ]);
  const empty = {
    ...emptyForm,
    tank: tanks[0]?.value ?? '',
    ...Object.assign({}, ...numbers.map(emptyLine)),
  };
  const form =
    refused === undefined ? freshForm(empty) : { ...refused, typed: { ...empty, ...refused.typed } };
  const value = (name: string) => String(form.typed[name] ?? '');
  const data = {
    ...{ kinds, tanks, count, purposes: PURPOSES, lights: LIGHT_KNOWN },
    suppliers: sums.map(({ supplier }) => supplier),
    units: { temperature: unitText(units.temperature), salinity: unitText(units.salinity) },
    canGrow: count < mostLines,
    lines: numbers.map((line) => ({
      line,
      ...Object.fromEntries(
        ['name', 'kind', 'ordered', 'invoiced', 'counted', 'dead', 'light', 'par'].map((field) => [
          field,
          { name: `${field}_${line}`, value: value(`${field}_${line}`) },
        ]),
      ),
    })),
  };
  return showPage(service, request, reply, 'stock/delivery-new', data, {
    title: 'Take in a delivery',
    area: 'stock',
    form,
  });
}

async function postNew(
  { service, temperaturesOf }: { service: Service; temperaturesOf: TemperaturesOf },
  request: FastifyRequest,
  reply: FastifyReply,
) {
  const body = (request.body ?? {}) as { lines?: unknown; do?: unknown };
  const count = linesAsked(body.lines);
  const units = await boxUnits(service.pool);
  if (body.do === 'more') {
    const grown = { ...body, lines: String(Math.min(mostLines, count + moreLines)) };
    return showNew(service, request, reply, refusedForm(grown, []));
  }
  return submit(request, reply, {
    schema: deliverySchema(count, request.site.timeZone, service.now(), units),
    act: (work, delivery) => receiveDelivery(work, { ...delivery, siteId: request.site.id }, temperaturesOf),
    done: ({ id, unplaced, keepsPurpose }) => ({
      to: hrefOf(id),
      undo: `${hrefOf(id)}/taking-back`,
      notice: [
        'The delivery is taken in.',
        ...(unplaced === 0 ? [] : [`${plural(unplaced, 'lot has', 'lots have')} no slot yet.`]),
        ...(keepsPurpose === '' ? [] : [`The quarantine goes on ${PURPOSE_WORDS[keepsPurpose] ?? ''}.`]),
      ].join(' '),
    }),
    again: (form) => showNew(service, request, reply, form),
  });
}

async function showOne(
  { service, heldAbove }: { service: Service; heldAbove: readonly HeldAbove[] },
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm({ note: '', result: '', reason: '' }),
) {
  const found = await findDelivery(service.db, idOf(request));
  const { lines, account, ...delivery } = found;
  const counts = delivery.voidedAt === null;
  const rests = counts ? await restingOnDelivery(service.pool, found, heldAbove) : [];
  const sum = (of: (line: (typeof lines)[number]) => number) =>
    lines.reduce((total, line) => total + of(line), 0);
  const lightOf = (known: string, par: number | null) =>
    par === null
      ? 'not known'
      : `${Math.round(par)} µmol/(m² s), ${known === 'stated' ? 'stated' : 'measured'}`;
  const pests = await pestsOf(service.pool, delivery.id);
  const { boxDegC, boxSalinity } = delivery;
  const data = {
    delivery,
    box: [
      boxDegC === null ? 'temperature not measured' : levelWords('temperature', boxDegC),
      boxSalinity === null ? 'salinity not measured' : `salinity ${levelWords('salinity', boxSalinity)}`,
    ].join(', '),
    pests: pests.map((one) => ({ ...one, name: pestOf(one.pest).name, href: `/stock/pests/${one.watchId}` })),
    who: account?.name ?? '',
    pictures: await picturesOf(service.db, 'delivery', delivery.id),
    claim: claimOf(delivery, service.now()),
    ...{ counts, rests },
    holding: rests.some(({ holds }) => holds),
    canClaim: counts && delivery.claimedAt === null,
    canSettle: counts && delivery.claimedAt !== null && delivery.claimResult === '',
    totals: {
      ordered: saidOf(lines.map(({ ordered }) => ordered)),
      invoiced: saidOf(lines.map(({ invoiced }) => invoiced)),
      counted: sum(({ counted }) => counted),
      dead: sum(({ arrivedDead }) => arrivedDead),
    },
    rows: lines.map(({ lot, name, ordered, invoiced, counted, arrivedDead, lightKnown, lightPar }) => ({
      ...{ name, counted, arrivedDead },
      ordered: ordered ?? 'not said',
      invoiced: invoiced ?? 'not said',
      code: lot?.code ?? '',
      href: lot === null ? '' : lotHref(lot.code),
      kind: lot?.kind.name ?? '',
      now: lot?.pieces ?? 0,
      light: lightOf(lightKnown, lightPar),
      differs: invoiced !== null && invoiced !== counted,
    })),
  };
  return showPage(service, request, reply, 'stock/delivery', data, {
    title: `Delivery from ${delivery.supplier}`,
    area: 'stock',
    form,
  });
}

async function postClaim(show: Show, request: FastifyRequest, reply: FastifyReply) {
  const id = idOf(request);
  return submit(request, reply, {
    schema: claimSchema,
    act: async (work, { note }) => {
      await makeClaim(work, id, note);
      await attachPictures(work, { noun: 'delivery', id }, sentFiles(request), 'Dead on arrival');
    },
    done: () => ({ to: hrefOf(id), notice: 'The claim is noted.' }),
    again: (form) => show(request, reply, form),
  });
}

async function postResult(show: Show, request: FastifyRequest, reply: FastifyReply) {
  const id = idOf(request);
  return submit(request, reply, {
    schema: claimResultSchema,
    act: (work, { result }) => settleClaim(work, id, result),
    done: () => ({ to: hrefOf(id), notice: 'The claim is settled.' }),
    again: (form) => show(request, reply, form),
  });
}

async function postBack(
  heldAbove: readonly HeldAbove[],
  show: Show,
  request: FastifyRequest,
  reply: FastifyReply,
) {
  const id = idOf(request);
  return submit(request, reply, {
    schema: takenBackSchema,
    act: (work, { reason }) => takeDeliveryBack(work, id, { reason, heldAbove }),
    done: ({ quarantines }) => ({
      to: hrefOf(id),
      notice: `The delivery is taken back.${quarantines.length === 0 ? '' : ` The quarantine of ${quarantines.join(' and ')} goes on without it: look at its purpose.`}`,
    }),
    again: (form) => show(request, reply, form),
  });
}

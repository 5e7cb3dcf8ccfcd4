import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import { seenIn, seenOf } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { plural } from '../../platform/words/numbers.ts';
import { listQuantities, type Quantity, sayBand, unitName } from '../quantities/quantities.ts';
import { findWaterSystem } from '../systems/systems.ts';
import { confirmBands, type ProposedBand, proposedBands, takeProposedBands } from './starting-bands.ts';
import { targetFields, targetInputName, targetsSchema } from './targets.schema.ts';
import { listTargets, setTargets, targetFormValue, targetsSeen, targetsStanding } from './targets.ts';

/** The targets of a system: bands, limits and make-up water, each with its source. */
export function targetPages(app: FastifyInstance, service: Service): void {
  app.get('/water/systems/:id/targets', (request, reply) => showTargets(service, request, reply));
  app.post(
    '/water/systems/:id/targets',
    takes(() => targetsSchema([])),
    (request, reply) => postTargets(service, request, reply),
  );
  app.post('/water/systems/:id/targets/confirm', takes(bandsForm), (request, reply) =>
    postConfirm(service, request, reply),
  );
  app.post('/water/systems/:id/targets/proposed', takes(bandsForm), (request, reply) =>
    postProposed(service, request, reply),
  );
}

/** The quantities at the head of the list stand open; of the others those of which something is entered (own choice). */
const ALWAYS_SHOWN = 8;

const labels = { low: 'Band from', high: 'to', limit: 'Limit', makeUp: 'Make-up water' };

async function showTargets(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const system = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
  const [quantities, targets] = await Promise.all([
    listQuantities(service.db),
    listTargets(service.db, system.id),
  ]);
  const form = refused ?? freshForm();
  const proposed = await proposedBands({ pool: service.pool, quantities }, system.id, targets);
  const rows = quantities.map((quantity) => {
    const target = targets.get(quantity.code);
    const cell = (field: (typeof targetFields)[number]) => {
      const name = targetInputName(quantity.code, field);
      const there = targetFormValue(quantity, target, field);
      const error = form.errors.find((one) => one.field === name)?.message ?? null;
      return {
        name,
        label: `${quantity.name}: ${labels[field].toLowerCase()}`,
        head: labels[field],
        value: form.typed[name] ?? there,
        there,
        error,
      };
    };
    const name = targetInputName(quantity.code, 'source');
    const error = form.errors.find((one) => one.field === name)?.message ?? null;
    const source = {
      name,
      label: `${quantity.name}: where it comes from`,
      value: form.typed[name] ?? target?.source ?? '',
      error,
    };
    const sureName = targetInputName(quantity.code, 'sure');
    const doubt = form.errors.find((one) => one.field === sureName)?.message ?? null;
    const usual = sayBand(quantity, quantity.plausibleLow, quantity.plausibleHigh);
    return {
      name: quantity.name,
      unit: unitName(quantity.code, quantity.displayUnit),
      usual,
      cells: targetFields.map(cell),
      source,
      sure: { name: sureName, doubt },
      starting: target?.starting ?? false,
    };
  });
  const isShown = (row: (typeof rows)[number], i: number) =>
    i < ALWAYS_SHOWN || [...row.cells, row.source].some(({ value, error }) => value !== '' || error !== null);
  return showPage(
    service,
    request,
    reply,
    'water/targets',
    {
      system,
      rows: rows.filter(isShown),
      others: rows.filter((row, i) => !isShown(row, i)),
      seen: seenOf(targetsSeen(targets)),
      theirs: theirsOf(rows, reply.statusCode === 409),
      starting: rows.filter(({ starting }) => starting).length,
      proposed: proposed.map((band) => proposalLine(band, quantities)),
    },
    { title: `Target bands of ${system.name}`, area: 'water', form },
  );
}

interface ShownRow {
  name: string;
  cells: readonly { head: string; value: unknown; there: string }[];
}

/** After a stale edit: the figures that are there now and differ from what was typed. */
function theirsOf(rows: readonly ShownRow[], stale: boolean): string {
  if (!stale) return '';
  return rows
    .flatMap(({ name, cells }) =>
      cells
        .filter(({ value, there }) => value !== there)
        .map(({ head, there }) => `${name}, ${head.toLowerCase()}: ${there === '' ? 'nothing' : there}`),
    )
    .join('; ');
}

/** One proposed band as a line: what it would be, instead of what, and where it comes from. */
function proposalLine(
  { quantityCode, low, high, source, instead }: ProposedBand,
  quantities: readonly Quantity[],
) {
  const quantity = quantities.find(({ code }) => code === quantityCode);
  const band = (from: number | null, to: number | null) =>
    quantity === undefined ? '' : (sayBand(quantity, from, to) ?? '');
  return {
    name: quantity?.name ?? quantityCode,
    band: band(low, high),
    instead: instead === null ? '' : band(instead.low, instead.high),
    source,
  };
}

const bandsForm = z.object({});

async function postConfirm(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This system');
  return submit(request, reply, {
    schema: bandsForm,
    over: targetsStanding(id),
    act: (work) => confirmBands(work, id),
    done: () => ({
      to: `/water/systems/${id}/targets`,
      notice: 'The bands are confirmed: they are yours now.',
    }),
    again: (form) => showTargets(service, request, reply, form),
  });
}

async function postProposed(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This system');
  return submit(request, reply, {
    schema: bandsForm,
    over: targetsStanding(id),
    act: (work) => takeProposedBands(work, id),
    done: ({ taken }) => ({
      to: `/water/systems/${id}/targets`,
      notice: `${plural(taken, 'starting band is', 'starting bands are')} taken. Look at them and confirm them.`,
    }),
    again: (form) => showTargets(service, request, reply, form),
  });
}

async function postTargets(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This system');
  const quantities = await listQuantities(service.db);
  return submit(request, reply, {
    schema: targetsSchema(quantities),
    act: (work, rows) => setTargets(work, id, rows, quantities, seenIn(request.body)),
    done: ({ changed }) => ({
      to: `/water/systems/${id}`,
      notice: changed === 0 ? 'Nothing was changed.' : 'Saved. The rules look at this system again.',
    }),
    again: (form) => showTargets(service, request, reply, form),
  });
}

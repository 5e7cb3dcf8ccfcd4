import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { slotName } from '../../farm/racks/slots.rules.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import type { Service } from '../../platform/service.ts';
import { many, optionalText, tick } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { plural } from '../../platform/words/numbers.ts';
import type { TickedLot } from '../../stock/lots/ticked-lots.ts';
import { gateRefusal } from '../../stock/pests/gate.rules.ts';
import { passTroubles, troublesOfMoves } from '../../stock/pests/troubles.ts';
import { listRacks } from '../../stock/places/free-slots.ts';
import { slotOccupancy } from '../../stock/places/occupancy.ts';
import { promisedSlots } from '../../stock/places/promised-slots.ts';
import { type AskedMove, momentOfMoves, moveLots, whyNotMoved } from '../../stock/places/several-moves.ts';
import { cellsOfRacks } from '../../stock/places/slots.ts';
import {
  type Outcome,
  type SeveralContext,
  type SeveralForm,
  severalForm,
} from '../../stock/several/several-form.ts';
import { arrange, runFrom } from './several.rules.ts';
import { severalEffects } from './several-effects.ts';

/** Moving several lots at once, each to a slot of one rack. */
export function severalMovePages(app: FastifyInstance, service: Service): void {
  severalForm(app, service, moveForm);
}

const path = '/racks/move-several';

/** `to`: "R46-TKR:<slot>", the first slot of each lot; without a slot the lot stays where it is. */
const moveSchema = (timeZone: string, now: Date) =>
  z
    .object({
      to: many().transform((all) => all.flatMap((one) => one.split(','))),
      off: tick(),
      at: pastMoment(timeZone, now),
      reason: optionalText(300),
      despite: optionalText(500),
    })
    .transform(({ to, ...rest }) => ({ ...rest, to: new Map(to.map((one) => pairOf(one))) }));

type MoveForm = z.output<ReturnType<typeof moveSchema>>;

function pairOf(text: string): [string, string] {
  const [code = '', slot = ''] = text.split(':');
  return [code, slot];
}

interface Asked {
  rack: string;
  from: string;
}

const askedSchema = z.object({ rack: optionalText(40).catch(''), from: optionalText(40).catch('') });

/** The rack that the page is about: the one that was asked for, else that of the lots, else the first. */
async function rackOf({ service, request }: SeveralContext, lots: readonly TickedLot[]) {
  const given = { ...(request.query as object), ...((request.body ?? {}) as object) };
  const asked: Asked = askedSchema.parse(given);
  const racks = await listRacks(service.pool, request.site.id);
  const known = (id: string | null | undefined) => racks.find((rack) => rack.id === id)?.id;
  const stands = lots.find(({ rackId }) => known(rackId) !== undefined)?.rackId;
  return { racks, asked, rackId: known(asked.rack) ?? stands ?? racks[0]?.id ?? null };
}

/** The rack with its slots, and where the lots would go by themselves. */
async function layout(context: SeveralContext, lots: readonly TickedLot[]) {
  const { racks, asked, rackId } = await rackOf(context, lots);
  const { pool } = context.service;
  const [slots, promised] =
    rackId === null
      ? [[], new Set<string>()]
      : await Promise.all([slotOccupancy(pool, [rackId], context.now), promisedSlots(pool)]);
  const free = slots.filter(({ id, lot }) => lot === null && !promised.has(id));
  const wanted = lots.map(({ code, slotIds }) => ({ code, slots: Math.max(1, slotIds.length) }));
  return { racks, asked, rackId, slots, free, arranged: arrange(wanted, free, asked.from) };
}

/** Stands for a slot beyond the end of a row: it is refused as one that is not there. */
const noSlot = '00000000-0000-0000-0000-000000000000';

const sentTo = (request: SeveralContext['request']) =>
  (request.body as { to?: unknown } | null | undefined)?.to !== undefined;

/** The moves of the form: each lot takes as many slots as it takes now, from the chosen one on. */
async function movesOf(
  context: SeveralContext,
  reader: SqlReader,
  lots: readonly TickedLot[],
  value: MoveForm,
): Promise<AskedMove[]> {
  const moves = (slotsOf: (lot: TickedLot) => readonly string[]) =>
    lots.map((lot) => ({ lotId: lot.id, code: lot.code, slotIds: slotsOf(lot) }));
  if (value.off) return moves(() => []);
  if (!sentTo(context.request)) {
    const { arranged } = await layout(context, lots);
    return moves(({ code, slotIds }) => orStay(arranged.get(code) ?? [], slotIds));
  }
  const cells = await cellsOfRacks(reader, [...value.to.values()].filter(isId));
  return moves(({ code, slotIds }) => {
    const first = cells.find(({ id }) => id === value.to.get(code));
    if (first === undefined) return slotIds;
    const count = Math.max(1, slotIds.length);
    const run = runFrom(
      first,
      count,
      cells.filter(({ rackId }) => rackId === first.rackId),
    );
    return run.length === count ? run : [...run, noSlot];
  });
}

const isId = (text: string) => z.uuid().safeParse(text).success;
const orStay = (slotIds: readonly string[], own: readonly string[]) => (slotIds.length === 0 ? own : slotIds);

const moveForm: SeveralForm<ReturnType<typeof moveSchema>> = {
  path,
  view: 'racks/move-several',
  area: 'racks',
  title: (count) => `Move ${plural(count, 'lot', 'lots')}`,
  button: 'Move them',
  looksFirst: true,
  schema: ({ timeZone, now }) => moveSchema(timeZone, now),
  fresh: () => ({ off: '', at: '', reason: '', despite: '' }),
  data: async (context, lots, form) => {
    const { racks, asked, rackId, slots, arranged } = await layout(context, lots);
    const typed = new Map([form.typed.to ?? []].flat().map(pairOf));
    const own = new Set(lots.map(({ id }) => id));
    const open = slots.filter(({ lot }) => lot === null || own.has(lot.id));
    const choices = (lot: TickedLot) =>
      open.map(({ id, row, column, lot: there }) => ({
        value: `${lot.code}:${id}`,
        text: there === null ? slotName({ row, column }) : `${slotName({ row, column })} (of these lots)`,
        chosen: id === (typed.get(lot.code) ?? arranged.get(lot.code)?.[0]),
      }));
    return {
      racks: racks.map(({ id, name, free }) => ({ value: id, text: `${name} (${free} free)` })),
      rackId,
      asked,
      begins: open.map(({ id, row, column }) => ({ value: id, text: slotName({ row, column }) })),
      choices: lots.map(choices),
    };
  },
  outcomes: async (context, reader, lots, value) => {
    if (value === null) return lots.map(() => ({ refused: 'Correct the form first.', words: '' }));
    const moves = await movesOf(context, reader, lots, value);
    const at = await momentOfMoves(reader, moves, value.at);
    const refused = await whyNotMoved(reader, context.request.site.id, moves, at);
    const going = moves
      .map((move, i) => ({ ...move, kind: lots[i]?.kind ?? '' }))
      .filter((_, i) => refused[i] === '');
    const effects = await severalEffects(context.service.pool, going, context.now);
    const troubles = await troublesOfMoves(reader, moves);
    return lots.map((lot, i): Outcome => {
      const effect = effects.get(lot.id);
      const trouble = troubles.get(lot.id);
      const asked = trouble === undefined ? '' : gateRefusal(lot.called, 'move', trouble, value.despite);
      const from = lot.place === '' ? 'from no rack' : `from ${lot.place}`;
      const to = value.off ? 'off its rack' : `to ${effect?.place ?? ''}`;
      return { refused: refused[i] || asked, words: `${to}, ${from}`, cautions: effect?.cautions ?? [] };
    });
  },
  act: async (work, context, lots, value) => {
    const moves = await movesOf(context, readerOf(work.tx), lots, value);
    await passTroubles(work, moves, value);
    await moveLots(work, context.request.site.id, moves, value);
  },
  done: (_, count, { off }) => ({
    notice: off
      ? `${plural(count, 'lot is', 'lots are')} on no rack now.`
      : `${plural(count, 'lot is', 'lots are')} moved.`,
  }),
};

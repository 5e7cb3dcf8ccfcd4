import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { findRack } from '../../farm/racks/racks.ts';
import { extrapolatedSlots } from '../../farm/surveys/light-map.rules.ts';
import { notFound } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { many, optionalText, tick } from '../../platform/web/fields.ts';
import { freshForm } from '../../platform/web/forms.ts';
import { inputMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { occupantsOf, type SlotOccupancy, slotOccupancy } from '../../stock/places/occupancy.ts';
import { racksForLot } from '../../stock/places/suited-racks.ts';
import { drawRack } from '../drawing/rack-drawing.ts';
import { layOutRack } from '../drawing/rack-layout.rules.ts';
import { effectOfMove, findTarget, targetWords } from './effects.ts';
import { findMovableLot, type MovableLot } from './moves.ts';

/** Preparing a move: which lot, to which slot, and what that means. The stock area then makes the move. */
export function movePages(app: FastifyInstance, service: Service): void {
  app.get('/racks/move', (request, reply) => showMove(service, request, reply));
}

const querySchema = z.object({
  lot: optionalText(20),
  code: optionalText(20),
  rack: z.uuid().optional().catch(undefined),
  slot: many().pipe(z.array(z.uuid())),
  /** Other water is looked for. */
  apart: tick(),
});

async function showMove(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const parsed = querySchema.safeParse(request.query);
  if (!parsed.success) throw notFound('Such a move');
  const { rack, slot: slotIds, apart } = parsed.data;
  const code = parsed.data.code === '' ? parsed.data.lot : parsed.data.code;
  if (code === '') return chooseLot(service, request, reply, slotIds, rack);
  const lot = await findMovableLot(service.pool, request.site.id, code);
  if (slotIds.length > 0) return confirmMove(service, request, reply, lot, { slotIds, apart });
  const rackId = rack ?? (apart ? undefined : lot.slots[0]?.rackId);
  return choosePlace(service, request, reply, lot, { wantedRack: rackId, apart });
}

/** The slot may be known, the lot is not: asks which lot. */
async function chooseLot(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  slotIds: string[],
  rackId: string | undefined,
) {
  const target = slotIds.length === 0 ? null : await findTarget(service, slotIds);
  const from = target?.rack.id ?? rackId;
  const slots = from === undefined ? [] : await slotOccupancy(service.pool, [from], service.now());
  const lots = occupantsOf(slots).map(({ lot, slots: taken }) => ({
    code: lot.code,
    ownCode: lot.ownCode,
    kind: lot.kind,
    slots: taken.map((slot) => slot.name).join(', '),
  }));
  const place = target === null ? null : targetWords(target);
  const data = { slotIds, place, rack: target?.rack ?? null, lots };
  return showPage(service, request, reply, 'racks/move-lot', data, { title: 'Move a lot', area: 'racks' });
}

/** The lot is known, the slot is not: shows a rack with the free slots that suit it outlined; `apart`: in other water alone. */
async function choosePlace(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  lot: MovableLot,
  { wantedRack, apart }: { wantedRack: string | undefined; apart: boolean },
) {
  const now = service.now();
  const racks = await racksForLot(service.pool, request.site, lot.id, now, { apart });
  const title = { title: `Move ${lot.code}`, area: 'racks' } as const;
  const rackId = wantedRack ?? racks[0]?.id;
  if (rackId === undefined && apart)
    return showPage(service, request, reply, 'racks/no-other-water', { lot }, title);
  // The page of racks says how to set up the first one.
  if (rackId === undefined) return reply.redirect('/racks', 303);
  const [rack, slots] = await Promise.all([
    findRack(service.db, rackId),
    slotOccupancy(service.pool, [rackId], now),
  ]);
  const free = slots.filter((slot) => slot.lot === null);
  const chosen = racks.find(({ id }) => id === rackId);
  const suiting = chosen?.suiting ?? new Set<string>();
  const { rows, columns, base } = rack;
  const options = { rows, columns, base, view: 'light' as const, timeZone: request.site.timeZone, now };
  const layout = layOutRack(slots, {
    ...options,
    extrapolated: extrapolatedSlots(slots),
    suitable: suiting,
  });
  const data = {
    lot,
    apart,
    isQuarantine: chosen?.quarantine ?? false,
    from: lot.slots.map((slot) => `${slot.rackName}, ${slot.name}`).join('; '),
    rack,
    racks: racks.map(({ id, text }) => ({ value: id, text })),
    free: free.map((slot) => ({
      id: slot.id,
      name: slot.name,
      fits: suiting.has(slot.id),
      par: slot.light?.par ?? null,
    })),
    fitting: suiting.size,
    picture: drawRack(layout, rack.name, (slot) => moveHref(lot, slot, apart)),
  };
  return showPage(service, request, reply, 'racks/move-place', data, {
    ...title,
    scripts: ['/assets/rack.js'],
  });
}

const moveHref = (lot: MovableLot, slot: SlotOccupancy, apart: boolean) =>
  slot.lot === null
    ? `/racks/move?lot=${encodeURIComponent(lot.code)}&slot=${slot.id}${apart ? '&apart=yes' : ''}`
    : null;

/** Both are known: shows what the move means, with the form that makes it. */
async function confirmMove(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  lot: MovableLot,
  { slotIds, apart }: { slotIds: string[]; apart: boolean },
) {
  const now = service.now();
  const { target, taken, effect, neighbours, asksWhy } = await effectOfMove(service, lot, slotIds);
  const data = {
    lot,
    another: `/racks/move?lot=${lot.code}&rack=${target.rack.id}${apart ? '&apart=yes' : ''}`,
    from: lot.slots.map((slot) => `${slot.rackName}, ${slot.name}`).join('; '),
    to: targetWords(target),
    target,
    slotIds,
    taken,
    effect,
    neighbours,
    asksWhy,
    freesSlots: target.slots.length < lot.slots.length,
  };
  const form = freshForm({ at: inputMoment(now, request.site.timeZone), reason: '', despite: '' });
  return showPage(service, request, reply, 'racks/move', data, {
    title: `Move ${lot.code}`,
    area: 'racks',
    form,
  });
}

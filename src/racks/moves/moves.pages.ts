import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { findRack } from '../../farm/racks/racks.ts';
import { extrapolatedSlots } from '../../farm/surveys/light-map.rules.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { many, optionalText } from '../../platform/web/fields.ts';
import { freshForm } from '../../platform/web/forms.ts';
import { inputMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { placeCareOf } from '../../stock/light/place-care.ts';
import { occupantsOf, type SlotOccupancy, slotOccupancy } from '../../stock/places/occupancy.ts';
import { drawRack } from '../drawing/rack-drawing.ts';
import { layOutRack } from '../drawing/rack-layout.rules.ts';
import { rackOverview } from '../overview/overview.ts';
import { suits } from './effects.rules.ts';
import { meaningOf, placeOf, placeWords } from './effects.ts';
import { findMover, type Mover } from './moves.ts';

/** Moving a lot: which one, whereto, and what that means, before the stock area makes the move. */
export function movePages(app: FastifyInstance, service: Service): void {
  app.get('/racks/move', (request, reply) => showMove(service, request, reply));
}

const querySchema = z.object({
  lot: optionalText(20),
  code: optionalText(20),
  rack: z.uuid().optional().catch(undefined),
  slot: many().pipe(z.array(z.uuid())),
});

async function showMove(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const parsed = querySchema.safeParse(request.query);
  if (!parsed.success) throw notFound('Such a move');
  const { rack, slot: slotIds } = parsed.data;
  const code = parsed.data.code === '' ? parsed.data.lot : parsed.data.code;
  if (code === '') return chooseLot(service, request, reply, slotIds, rack);
  const lot = await findMover(service.pool, request.site.id, code);
  const known = rack ?? lot.slots[0]?.rackId;
  if (slotIds.length === 0) return choosePlace(service, request, reply, lot, known);
  return confirmMove(service, request, reply, lot, slotIds);
}

/** Only a place is known: which lot goes there? */
async function chooseLot(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  slotIds: string[],
  rackId: string | undefined,
) {
  const goal = slotIds.length === 0 ? null : await placeOf(service, slotIds);
  const from = goal?.rack.id ?? rackId;
  const slots = from === undefined ? [] : await slotOccupancy(service.pool, [from], service.now());
  const lots = occupantsOf(slots).map(({ lot, slots: taken }) => ({
    code: lot.code,
    kind: lot.kind,
    slots: taken.map((slot) => slot.name).join(', '),
  }));
  const place = goal === null ? null : placeWords(goal);
  const data = { slotIds, place, rack: goal?.rack ?? null, lots };
  return showPage(service, request, reply, 'racks/move-lot', data, { title: 'Move a lot', area: 'racks' });
}

/** Only the lot is known: whereto? Free slots that suit it are outlined. */
async function choosePlace(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  lot: Mover,
  asked: string | undefined,
) {
  const now = service.now();
  const racks = await rackOverview(service.pool, request.site.id, now);
  const rackId = asked ?? racks[0]?.id;
  if (rackId === undefined) throw new Refusal('There is no rack to move it to yet.', { status: 404 });
  const [rack, slots, habits] = await Promise.all([
    findRack(service.db, rackId),
    slotOccupancy(service.pool, [rackId], now),
    placeCareOf(service.pool, [lot.id], now),
  ]);
  const habit = habits.get(lot.id);
  const free = slots.filter((slot) => slot.lot === null);
  const fits = free.filter((slot) => habit !== undefined && suits(slot, habit));
  const { rows, columns, base } = rack;
  const options = { rows, columns, base, view: 'light' as const, timeZone: request.site.timeZone, now };
  const layout = layOutRack(slots, {
    ...options,
    extrapolated: extrapolatedSlots(slots),
    suitable: new Set(fits.map((slot) => slot.id)),
  });
  const data = {
    lot,
    from: lot.slots.map((slot) => `${slot.rackName}, ${slot.name}`).join('; '),
    rack,
    racks: racks.map((one) => ({ value: one.id, text: `${one.systemName}: ${one.tankName}, ${one.name}` })),
    free: free.map((slot) => ({
      id: slot.id,
      name: slot.name,
      fits: fits.includes(slot),
      par: slot.light?.par ?? null,
    })),
    fitting: fits.length,
    picture: drawRack(layout, rack.name, (slot) => goalHref(lot, slot)),
  };
  return showPage(service, request, reply, 'racks/move-place', data, {
    title: `Move ${lot.code}`,
    area: 'racks',
    scripts: ['/assets/rack.js'],
  });
}

const goalHref = (lot: Mover, slot: SlotOccupancy) =>
  slot.lot === null ? `/racks/move?lot=${encodeURIComponent(lot.code)}&slot=${slot.id}` : null;

/** Both are known: what it means, and the form that makes it so. */
async function confirmMove(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  lot: Mover,
  slotIds: string[],
) {
  const now = service.now();
  const { goal, taken, meaning, neighbours } = await meaningOf(service, lot, slotIds);
  const data = {
    lot,
    from: lot.slots.map((slot) => `${slot.rackName}, ${slot.name}`).join('; '),
    to: placeWords(goal),
    goal,
    slotIds,
    taken,
    meaning,
    neighbours,
    unsure: goal.slots.length < lot.slots.length,
  };
  const form = freshForm({ at: inputMoment(now, request.site.timeZone), reason: '' });
  return showPage(service, request, reply, 'racks/move', data, {
    title: `Move ${lot.code}`,
    area: 'racks',
    form,
  });
}

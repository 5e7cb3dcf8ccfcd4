import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Service } from '../../platform/service.ts';
import { addressWithin } from '../../platform/web/back.ts';
import { many, optionalText, tick } from '../../platform/web/fields.ts';
import type { FormState } from '../../platform/web/forms.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { lotHref } from '../base/lot-href.ts';
import { passTroubles } from '../pests/troubles.ts';
import { freeSlots } from '../places/free-slots.ts';
import { type MoveResult, moveLot, rackOfLot } from '../places/placements.ts';
import { racksForLot } from '../places/suited-racks.ts';
import { type LotForm, type LotFormContext, lotForm } from './lot-form.ts';

/** Placing a lot by the names of racks and slots: for keyboards and small screens, and for a move that was refused. */
export function placementPages(app: FastifyInstance, service: Service): void {
  lotForm(app, service, placeForm);
}

/** A move, as forms and JSON bring it. `back` is a page of this service to go on to. */
const placementSchema = (timeZone: string, now: Date) =>
  z
    .object({
      slot: many().pipe(z.array(z.uuid('Choose a slot on the rack.'))),
      off: tick(),
      at: pastMoment(timeZone, now),
      reason: optionalText(300),
      despite: optionalText(500),
      back: optionalText(300).transform((path) => addressWithin(path) ?? ''),
    })
    .refine(({ slot, off }) => off || slot.length > 0, {
      message: 'Choose at least one slot, or say that it is taken off its rack.',
      path: ['slot'],
    })
    .refine(({ slot, off }) => !(off && slot.length > 0), {
      message: 'Choose slots, or take it off its rack, not both.',
      path: ['off'],
    });

const placeForm: LotForm<ReturnType<typeof placementSchema>, MoveResult> = {
  page: 'place',
  resource: 'placements',
  gate: 'move',
  view: 'stock/place',
  title: ({ lot }) => `Place ${lot.code}`,
  schema: ({ timeZone, now }) => placementSchema(timeZone, now),
  fresh: () => ({ off: '', at: '', reason: '', back: '', despite: '' }),
  data: drawPlaces,
  act: async (work, { lot }, { slot, at, reason, despite }) => {
    await passTroubles(work, [{ lotId: lot.id, code: lot.code, slotIds: slot }], { despite });
    return moveLot(work, { lotId: lot.id, slotIds: slot, at, reason, despite });
  },
  done: ({ changed, place }, { lot }, { back }) => ({
    to: back === '' ? lotHref(lot.code) : back,
    notice: movedWords(lot.code, changed, place),
  }),
};

function movedWords(code: string, changed: boolean, place: string): string {
  if (place === '') return changed ? `${code} is on no rack now.` : `${code} was on no rack.`;
  return changed ? `${code} is at ${place} now.` : `${code} was at ${place} already.`;
}

async function drawPlaces({ service, request, lot }: LotFormContext, form: FormState) {
  const now = service.now();
  const racks = await racksForLot(service.pool, request.site, lot.id, now);
  const chosen = [form.typed.slot ?? []].flat();
  const asked = (request.query as { rack?: string } | undefined)?.rack ?? form.typed.rack ?? '';
  const current = await rackOfLot(service.db, lot.id);
  const rack =
    racks.find(({ id }) => id === asked) ?? racks.find(({ id }) => id === current) ?? racks[0] ?? null;
  const slots = rack === null ? [] : await freeSlots(service.pool, rack.id, lot.id, now);
  return {
    racks: racks.map(({ id, text }) => ({ value: id, text })),
    rackId: rack?.id ?? '',
    slots: slots.map((slot) => ({
      ...slot,
      chosen: chosen.includes(slot.id),
      suits: rack?.suiting.has(slot.id) ?? false,
    })),
    placed: current !== null,
    typedBack: form.typed.back ?? '',
  };
}

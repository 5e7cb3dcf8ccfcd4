import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Service } from '../../platform/service.ts';
import { optionalText, whole } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { plural } from '../../platform/words/numbers.ts';
import { cutHow, freshCutHow } from '../cutting/cut.schema.ts';
import { againstCuts, cutRefusal } from '../cutting/cut-gate.ts';
import { cutLot, cutWords } from '../cutting/cuts.ts';
import { lotCautions } from '../kinds/cautions.ts';
import type { TickedLot } from '../lots/ticked-lots.ts';
import { gateRefusals } from '../pests/gate.ts';
import { type Outcome, type SeveralForm, severalForm } from './several-form.ts';

/** Cutting several lots in one go: as many pieces off each. */
export function severalCutPages(app: FastifyInstance, service: Service): void {
  severalForm(app, service, cutForm);
}

/** Lots cut in one go: each is a change of its own within it (own choice). */
const MOST = 50;

const cutSchema = (timeZone: string, now: Date) =>
  z.object({
    pieces: whole({ what: 'how many pieces off each', low: 1, high: 10_000 }),
    ...cutHow,
    note: optionalText(),
    at: pastMoment(timeZone, now),
    despite: optionalText(500),
  });

const cutForm: SeveralForm<ReturnType<typeof cutSchema>, string[]> = {
  path: '/stock/several/cut',
  view: 'stock/several-cut',
  area: 'stock',
  title: (count) => `Cut ${plural(count, 'lot', 'lots')}`,
  button: 'Make the new lots',
  schema: ({ timeZone, now }) => cutSchema(timeZone, now),
  fresh: () => ({ pieces: '', ...freshCutHow, note: '', at: '', despite: '' }),
  data: async ({ service, request }, lots) => ({
    known: await cutWords(service.pool, request.site.id),
    caution:
      (
        await lotCautions(
          service.pool,
          lots.map(({ id }) => id),
        )
      ).find(({ grave }) => grave) ?? null,
  }),
  outcomes: async ({ now }, reader, lots, value) => {
    const ids = lots.map(({ id }) => id);
    const [despite, sizeMm, at] = [value?.despite ?? '', value?.sizeMm ?? null, value?.at ?? now];
    const reasons = await againstCuts(reader, ids, { at, sizeMm });
    const pests = await gateRefusals(reader, lots, 'cut', despite);
    return lots.map((lot, i): Outcome => {
      const all = reasons.get(lot.id) ?? [];
      const refused = refusalOf(lot, i) || (pests.get(lot.id) ?? '') || cutRefusal(lot.called, all, despite);
      const words =
        value === null ? 'Cut; the mother stays' : `${plural(value.pieces, 'piece', 'pieces')} become a lot`;
      return { refused, words, cautions: all.map(({ text }) => text) };
    });
  },
  act: async (work, _, lots, { pieces, ...how }) => {
    const made: string[] = [];
    for (const { id } of lots) {
      const cut = { ...how, fromLotId: id, pieces, usedUp: 0, slotIds: [] };
      made.push((await cutLot(work, cut)).code);
    }
    return made;
  },
  done: (made) => ({
    notice: `${plural(made.length, 'new lot', 'new lots')}: ${made.join(', ')}. Give each its place and its label.`,
  }),
  looksFirst: true,
};

function refusalOf({ pieces }: TickedLot, position: number): string {
  if (pieces === 0) return 'No pieces are left.';
  return position < MOST ? '' : `At most ${MOST} lots are cut at once.`;
}

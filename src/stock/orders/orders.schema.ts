import { z } from 'zod';
import {
  choice,
  optionalChosen,
  optionalNumber,
  optionalText,
  text,
  tick,
  version,
} from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { price } from '../lots/lots.schema.ts';
import { boxFields, boxTyped } from '../shipping/shipping.schema.ts';
import { STAGES } from './orders.rules.ts';

/** Pieces as they are typed; null where nothing was. */
const somePieces = () =>
  optionalNumber({ what: 'how many pieces', low: 0, high: 100_000 }).pipe(
    z.number().int('Enter whole pieces.').nullable(),
  );

const untilDay = (today: string) =>
  z.iso
    .date({ error: 'Enter a day, like 2026-12-01.' })
    .refine((day) => day >= today, 'Enter today or a later day.');

/** A lot as far as an order form asks about it. */
export interface AskedLot {
  id: string;
  code: string;
  priceMinor: number | null;
}

/** Pieces and prices of these lots, each field named with the lot's code. Without `mayPrice` a lot's own price stands. */
function lineFields(lots: readonly AskedLot[], currency: string | null, mayPrice: boolean) {
  return Object.assign(
    {},
    ...lots.map(({ code }) => ({
      [`pieces_${code}`]: somePieces(),
      ...(mayPrice ? { [`price_${code}`]: price(currency) } : {}),
    })),
  ) as Record<string, z.ZodType>;
}

function linesOf(typed: Record<string, unknown>, lots: readonly AskedLot[], mayPrice: boolean) {
  return lots.flatMap(({ id, code, priceMinor }) => {
    const pieces = typed[`pieces_${code}`] as number | null;
    if (pieces === null || pieces === 0) return [];
    const typedPrice = typed[`price_${code}`] as number | null;
    return [{ lotId: id, pieces, priceMinor: mayPrice ? typedPrice : priceMinor }];
  });
}

interface Asked {
  lots: readonly AskedLot[];
  currency: string | null;
  mayPrice: boolean;
  today: string;
}

/** A new order, or lots for one that is there (`order`). */
export const newOrderSchema = ({ lots, currency, mayPrice, today }: Asked) =>
  z
    .object({
      order: optionalChosen(),
      buyer: optionalText(120),
      contact: optionalText(300),
      until: untilDay(today),
      note: optionalText(1000),
      despite: optionalText(500),
      do: choice(['hold', 'note'], 'Choose whether the pieces are held.').catch('hold'),
      ...lineFields(lots, currency, mayPrice),
    })
    .transform((typed, context) => {
      const { order, buyer, contact, until, note, despite, do: act } = typed;
      if (order === null && buyer === '')
        context.addIssue({ code: 'custom', message: 'Enter who it is for.', path: ['buyer'] });
      const lines = linesOf(typed as Record<string, unknown>, lots, mayPrice);
      return { order, buyer, contact, until, note, despite, hold: act === 'hold', lines };
    });

export const editSchema = (today: string, before: string) =>
  z.object({
    buyer: text('who it is for', 120),
    contact: optionalText(300),
    // A day that has gone by stays where nobody changes it.
    until: z.iso
      .date({ error: 'Enter a day, like 2026-12-01.' })
      .refine((day) => day >= today || day === before, 'Enter today or a later day.'),
    note: optionalText(1000),
    version: version(),
  });

/** Prices of an order's lines, each named with its id, and of its free line. */
export const pricesSchema = (lineIds: readonly string[], currency: string | null) =>
  z
    .object({
      freeLine: optionalText(120),
      freeAmount: price(currency),
      version: version(),
      ...(Object.assign({}, ...lineIds.map((id) => ({ [`price_${id}`]: price(currency) }))) as Record<
        string,
        z.ZodType
      >),
    })
    .transform((typed, context) => {
      const { freeLine, freeAmount, version: seen } = typed;
      if (freeAmount !== null && freeLine === '')
        context.addIssue({ code: 'custom', message: 'Say what this amount is for.', path: ['freeLine'] });
      const of = typed as Record<string, unknown>;
      const lines = new Map(lineIds.map((id) => [id, of[`price_${id}`] as number | null]));
      return { lines, freeLine, freeLineMinor: freeAmount, version: seen };
    });

export const stageSchema = z.object({
  to: choice(STAGES, 'Choose where the order goes.'),
  reason: optionalText(500),
  despite: optionalText(500),
  version: version(),
});

/** Packing: which lines lie in the box, and the box. */
export const packingSchema = (unit: string) =>
  z
    .object({
      packed: z.union([z.array(z.string()), z.string().transform((one) => [one])]).default([]),
      way: choice(['box', 'fetched'], 'Choose how it goes to the buyer.'),
      despite: optionalText(500),
      boxSeen: optionalText(40),
      version: version(),
      ...boxFields(unit),
    })
    .transform(({ packed, way, despite, boxSeen, version: seen, ...box }) => ({
      ...{ packed, despite, boxSeen, version: seen },
      box: way === 'box' ? boxTyped(box) : null,
    }));

/** How a box arrived: the dead of each line by its id. */
export const arrivalSchema = (
  lines: readonly { id: string; pieces: number }[],
  timeZone: string,
  now: Date,
) =>
  z
    .object({
      at: pastMoment(timeZone, now),
      late: tick(),
      note: optionalText(1000),
      version: version(),
      ...(Object.assign({}, ...lines.map(({ id }) => ({ [`dead_${id}`]: somePieces() }))) as Record<
        string,
        z.ZodType
      >),
    })
    .transform((typed, context) => {
      const of = typed as Record<string, unknown>;
      const dead = new Map<string, number>();
      for (const { id, pieces } of lines) {
        const count = (of[`dead_${id}`] as number | null) ?? 0;
        if (count > pieces)
          context.addIssue({
            code: 'custom',
            message: `At most ${pieces} were sent.`,
            path: [`dead_${id}`],
          });
        dead.set(id, count);
      }
      return { at: typed.at, late: typed.late, note: typed.note, version: typed.version, dead };
    });

/** What came back of each line, by its id. */
export const returnSchema = (lineIds: readonly string[]) =>
  z
    .object({
      rack: optionalChosen(),
      reason: text('why they came back', 500),
      version: version(),
      ...(Object.assign(
        {},
        ...lineIds.map((id) => ({ [`back_${id}`]: somePieces(), [`off_${id}`]: somePieces() })),
      ) as Record<string, z.ZodType>),
    })
    .transform((typed) => {
      const of = typed as Record<string, unknown>;
      const count = (name: string) => (of[name] as number | null) ?? 0;
      const lines = new Map(
        lineIds.map((id) => [id, { back: count(`back_${id}`), writtenOff: count(`off_${id}`) }]),
      );
      return { lines, rackId: typed.rack, reason: typed.reason, version: typed.version };
    });

import { z } from 'zod';
import { optionalChosen, optionalText, text, tick, whole } from '../../platform/web/fields.ts';
import { calendarDay } from '../../platform/web/moments.ts';
import { readCode } from '../../stock/base/codes.ts';

const code = text('the code of the lot').transform((typed, context) => {
  const read = readCode(typed);
  if (read.ok) return read.code;
  context.addIssue({ code: 'custom', message: read.message });
  return z.NEVER;
});

export const newTagSchema = z.object({
  lot: code,
  pieces: whole({ what: 'how many pieces', low: 1, high: 10_000 }),
  reason: optionalText(500),
  sold: tick(),
  buyer: optionalText(200),
  holdId: optionalChosen(),
  hidePhoto: tick(),
  hereAlone: tick(),
});

export const withdrawalSchema = z.object({ reason: text('why it is withdrawn', 500) });

const measured = (low: number, high: number) =>
  z
    .union([z.string(), z.undefined()])
    .transform((typed) =>
      typed === undefined || typed.trim() === '' ? undefined : Number(typed.replace(',', '.')),
    )
    .pipe(z.number().min(low).max(high).optional())
    .catch(undefined);

/** What the buyer enters on the public page; anything that cannot be understood counts as not entered. */
export const buyerSchema = z.object({
  light: measured(5, 2000),
  top: measured(5, 2000),
  middle: measured(5, 2000),
  bottom: measured(5, 2000),
  hours: measured(1, 24),
  from: calendarDay().optional().catch(undefined),
  alkalinity: measured(1, 30),
  salinity: measured(5, 50),
  temperature: measured(5, 40),
  bag: measured(0, 200),
});

export type BuyerAnswers = z.output<typeof buyerSchema>;

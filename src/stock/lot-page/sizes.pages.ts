import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { mmWords } from '../../platform/units/measures.ts';
import { choice, optionalText, text, typedNumber } from '../../platform/web/fields.ts';
import { submit } from '../../platform/web/forms.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { pathId } from '../../platform/web/requests.ts';
import { lotHref } from '../base/lot-href.ts';
import { askWhyTakenBack } from '../base/taking-back.ts';
import { areaGrowth, discLength, growthFrom } from '../growth/areas.rules.ts';
import { seenAreas } from '../growth/areas.ts';
import { growthOf, middleSize, spreadOf } from '../growth/growth.rules.ts';
import {
  keptSize,
  MEASURES,
  rateWords,
  saleSizeWords,
  sizeNumber,
  sizeUnit,
} from '../growth/growth.words.ts';
import { measureLot, sizesOf, voidSizes } from '../growth/measurements.ts';
import { lotCare } from '../kinds/care.ts';
import { type LotForm, lotForm } from './lot-form.ts';

const voidingBody = z.object({ reason: text('why it is taken back', 500) });

/** Sizes of a lot's pieces, how fast they grow, and when they can be sold. */
export function sizePages(app: FastifyInstance, service: Service): void {
  lotForm(app, service, sizeForm);
  app.post('/size-measurements/:id/voiding', takes(voidingBody), (request, reply) =>
    submit(request, reply, {
      schema: voidingBody,
      act: (work, { reason }) => voidSizes(work, pathId(request, 'id', 'This measurement'), reason),
      done: ({ code }) => ({ to: `${lotHref(code)}/sizes`, notice: 'The sizes are taken back.' }),
      again: askWhyTakenBack(
        service,
        request,
        reply,
        'Sizes that were measured. Growth is worked out without them.',
      ),
    }),
  );
}

const measureCodes = ['length_mm', 'area_cm2', 'mass_g'] as const;

/** "21, 22.5; 19" as texts, one for each piece. */
const sizeTexts = (typed: string): string[] =>
  typed
    .replace(/,(?=\s|$)/g, ' ')
    .split(/[;\s]+/)
    .filter((part) => part !== '');

/** What could be one size with a decimal comma or two sizes: "21,22". "21,5" and "0,25" are one. */
const isOneOrTwo = (part: string): boolean => /^[1-9]\d*,\d{2,}$/.test(part);

/** Sizes as they were typed, with a decimal point or comma; or what is wrong with them. */
function readSizes(typed: string): { sizes: number[] } | { fault: string } {
  const parts = sizeTexts(typed);
  const unclear = parts.find(isOneOrTwo);
  if (unclear !== undefined)
    return {
      fault: `“${unclear}” may be one size or two. Write ${unclear.replace(',', '.')}, or ${unclear.replace(',', ' ')}.`,
    };
  const sizes = parts.map(typedNumber);
  return sizes.length > 0 && sizes.length <= 200 && sizes.every((size) => size > 0 && size < 100_000)
    ? { sizes }
    : { fault: 'Enter a size above 0 for each piece, with spaces between, like 21 22.5 19.' };
}

/** A size measured by hand, as the level that growth goes on from. */
function handLevel({ at, sizes }: { at: Date; sizes: readonly number[] }) {
  const mm = middleSize(sizes);
  return { at, mm, level: Math.log(mm), sd: spreadOf(sizes) / Math.sqrt(sizes.length) };
}

/** Sizes, as forms and JSON bring them: one text with a number for each piece. */
const sizesSchema = (timeZone: string, now: Date) =>
  z
    .object({
      measure: choice(measureCodes, 'Choose what was measured.'),
      sizes: text('the sizes', 2000).transform((typed, context) => {
        const read = readSizes(typed);
        if ('sizes' in read) return read.sizes;
        context.addIssue({ code: 'custom', message: read.fault });
        return z.NEVER;
      }),
      note: optionalText(500),
      at: pastMoment(timeZone, now),
    })
    .transform((typed) => ({ ...typed, sizes: typed.sizes.map((size) => keptSize(typed.measure, size)) }));

const sizeForm: LotForm<ReturnType<typeof sizesSchema>, { id: string }> = {
  page: 'sizes',
  resource: 'sizes',
  view: 'stock/sizes',
  title: () => 'Sizes and growth',
  schema: ({ timeZone, now }) => sizesSchema(timeZone, now),
  fresh: () => ({ measure: 'length_mm', sizes: '', note: '', at: '' }),
  data: async ({ service, lot, timeZone, now }) => {
    const [all, areas] = await Promise.all([
      sizesOf(service.pool, lot.id),
      seenAreas(service.pool, { siteId: lot.siteId, lotId: lot.id }, now),
    ]);
    const seen = areas.get(lot.id) ?? [];
    const care = (await lotCare(service.pool, { lotIds: [lot.id] })).get(lot.id);
    const saleSize = care?.sale_size_mm?.high ?? 0;
    const measured = measureCodes.filter((code) => all.some(({ measure }) => measure === code));
    const last = all.findLast(({ measure }) => measure === 'length_mm');
    const growth = growthOf(all, 'length_mm', lot.cutInto?.at ?? null);
    const byArea = areaGrowth(seen, lot.cutInto?.at ?? null);
    // What a hand measured leads: photographs lend their rate only where hand sizes tell none.
    const lent = !growth.told && byArea.told;
    const level = last === undefined ? discLength(seen) : handLevel(last);
    const used =
      lent && level !== null
        ? { ...byArea, growth: growthFrom(byArea, { value: level.level, sd: level.sd }) }
        : growth;
    return {
      measures: measureCodes.map((code) => ({
        value: code,
        text: `${MEASURES[code]} (${sizeUnit(code)})`,
      })),
      rates: measured.map((code) => ({
        label: `${MEASURES[code]} grows`,
        text: rateWords(growthOf(all, code, lot.cutInto?.at ?? null)),
      })),
      seen:
        seen.length === 0
          ? ''
          : `${rateWords(byArea)}${byArea.told ? `; a length half as fast. ${growth.told ? 'Sizes measured by hand lead.' : 'It stands in, since sizes by hand do not tell growth.'}` : ''}`,
      sale:
        saleSize === 0 || level === null
          ? ''
          : `${saleSizeWords(used, { saleSize, last: level.mm, lastAt: level.at, timeZone })}${lent ? ' By the growth of its area in photographs.' : ''}${last === undefined ? ' Never measured by hand: its length is taken as that of a disc of its area.' : ''}`,
      saleSize: mmWords(saleSize),
      rows: all
        .map(({ id, at, measure, sizes, note, by }) => ({
          ...{ id, at, note, by },
          middle: `${sizeNumber(measure, middleSize(sizes))} ${sizeUnit(measure)}`,
          each: sizes.length > 1 ? sizes.map((size) => sizeNumber(measure, size)).join(', ') : '',
        }))
        .reverse(),
    };
  },
  act: (work, { lot }, value) => measureLot(work, { lotId: lot.id, ...value }),
  done: (_, { lot }) => ({ to: `${lotHref(lot.code)}/sizes`, notice: `The sizes of ${lot.code} are saved.` }),
};

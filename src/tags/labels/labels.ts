import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { priceOf, priceWords } from '../../platform/words/money.ts';
import { dateWords } from '../../platform/words/times.ts';
import { LIGHT_STEPS } from '../../racks/drawing/light-tones.rules.ts';
import type { TagRecord } from '../record/record.ts';
import { labelFacts, nameWords } from '../record/record-words.ts';
import { findSheet } from './label-sheets.ts';
import type { Label } from './pdf.ts';
import type { LabelText } from './typesetting.rules.ts';

/** Which labels are printed: one a piece unless `copies` says how many a tag. */
export interface Printing {
  tagIds: readonly string[];
  sheetId: string;
  /** Place on the first page to begin with, 1 the top left one. */
  first: number;
  copies: number | null;
  /** Whether the price of a piece stands on them, as it is today. */
  price: boolean;
}

/** So many fit on paper at once; more are printed in parts. */
export const MOST_LABELS = 1000;

/** The words of a tag's label. */
export function labelText(record: TagRecord, timeZone: string, price = ''): LabelText {
  const { name, standing, qualified } = nameWords(record);
  return {
    code: record.ownCode ?? record.lot,
    name: record.tradeName === undefined ? name : `${record.tradeName}, ${name}`,
    standing: record.identification === null || qualified ? standing : '',
    lines: labelFacts(record).map(({ label, text }) => ({ label, text })),
    ...(price === '' ? {} : { price }),
    pictures: picturesOf(record),
    foot: `${record.site} · ${dateWords(record.issuedAt, timeZone)} · scan for its acclimation`,
  };
}

/** Prices of a piece of the lots that have one, by lot. */
async function pricesOf(db: Service['db'], lotIds: readonly string[]): Promise<Map<string, string>> {
  const lots = await db.lot.findMany({
    where: { id: { in: [...lotIds] }, priceMinor: { not: null } },
    select: { id: true, priceMinor: true, site: { select: { currency: true } } },
  });
  return new Map(
    lots.flatMap(({ id, priceMinor, site }) => {
      const price = priceOf(priceMinor, site.currency);
      return price === null ? [] : [[id, priceWords(price)] as const];
    }),
  );
}

const flows = ['still', 'low', 'medium', 'high'];

/** The steps of light are those of the racks' drawings. */
function picturesOf({ light, flow }: TagRecord): NonNullable<LabelText['pictures']> {
  return {
    light:
      light === null
        ? null
        : { step: LIGHT_STEPS.filter((from) => light.par >= from).length, of: LIGHT_STEPS.length + 1 },
    flow: flow === null ? null : Math.max(0, flows.indexOf(flow.high)),
  };
}

/**
 * The labels of the tags, in the order asked for. A withdrawn tag has none.
 * @param base the service's own public address
 * @throws Refusal when a tag is not there or withdrawn, or when they are too many at once
 */
export async function labelsOf(
  db: Service['db'],
  { tagIds, copies, price }: Pick<Printing, 'tagIds' | 'copies' | 'price'>,
  base: string,
  timeZone: string,
): Promise<Label[]> {
  const tags = await db.tag.findMany({ where: { id: { in: [...tagIds] } } });
  const byId = new Map(tags.map((tag) => [tag.id, tag]));
  const prices = price
    ? await pricesOf(
        db,
        tags.map(({ lotId }) => lotId),
      )
    : new Map<string, string>();
  const priceOn = (lotId: string) => prices.get(lotId) ?? '';
  const labels = tagIds.flatMap((id) => {
    const tag = byId.get(id);
    if (tag === undefined)
      throw new Refusal('One of these tags does not exist. Choose them again.', { field: 'tag' });
    const record = JSON.parse(tag.record) as TagRecord;
    if (tag.withdrawnAt !== null)
      throw new Refusal(`The tag of ${record.lot} is withdrawn: no label is printed for it.`, {
        field: 'tag',
      });
    const label = {
      text: labelText(record, timeZone, priceOn(tag.lotId)),
      address: new URL(`/t/${tag.token}`, base).href,
    };
    return Array.from({ length: copies ?? tag.pieces }, () => label);
  });
  if (labels.length > MOST_LABELS)
    throw new Refusal(`That is ${labels.length} labels; at most ${MOST_LABELS} are printed at once.`, {
      field: 'copies',
    });
  return labels;
}

/** Writes down that labels are printed, and offers that sheet first from now on. @throws Refusal 404 */
export async function notePrinting(work: Work, { tagIds, sheetId, copies, price }: Printing): Promise<void> {
  const sheet = await findSheet(work.tx, sheetId);
  await work.tx.labelSheet.update({ where: { id: sheet.id }, data: { lastUsedAt: work.now } });
  for (const id of tagIds)
    work.record('tag.label_printed', { type: 'tag', id }, { sheet: sheet.name, copies, price });
}

import type { LossCause } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import { lockLot, piecesAt } from '../base/lot-lock.ts';
import { splitLot } from '../cutting/cuts.ts';
import { takeCountBack } from '../lots/counts-taken-back.ts';
import { countLot } from '../lots/ledger.ts';
import { sellSingle } from '../orders/single.ts';
import { moveLot } from '../places/placements.ts';
import { type Reason, reasonsFor } from './counts.rules.ts';
import { lotsOf, type StocktakeLot } from './state.ts';
import { fixExpected, lockOpen, ofStocktake, unsettled } from './stocktakes.ts';

/** What a difference was, as somebody says it. */
export interface Settlement {
  as: Reason;
  cause: LossCause;
  buyer: string;
  note: string;
  /** Where it stands, of one that was moved. */
  slot: string;
  despite: string;
  /** As the page said it. */
  difference: number;
}

/** A line with the lots of its stocktake on all racks, locked. */
async function lockLine(work: Work, lineId: string) {
  const row = await work.tx.stocktakeLine.findUnique({ where: { id: lineId } });
  if (row === null) throw notFound('This count');
  if (row.lotId !== null) await lockLot(work.tx, row.lotId);
  const stocktake = await lockOpen(work, row.stocktakeId);
  const lines = await work.tx.stocktakeLine.findMany({
    where: {
      stocktakeId: stocktake.id,
      OR: [{ id: lineId }, ...(row.lotId === null ? [] : [{ lotId: row.lotId }])],
    },
    select: { rackId: true },
  });
  const lots = await lotsOf(readerOf(work.tx), stocktake, [...new Set(lines.map(({ rackId }) => rackId))]);
  const line = lots.find((one) => one.lineId === lineId);
  if (line === undefined) throw notFound('This count');
  return {
    row,
    stocktake,
    line,
    others: lots.filter((one) => one.lotId === row.lotId && one.lineId !== lineId),
  };
}

/**
 * Settles one difference by what it was: a loss with its cause, a sale, a move, a split, or a count, each by its own
 * operation at the time of the count, with its lines in ledger and journal.
 * @throws Refusal 404; 409 where it is to be counted again, was settled, or changed meanwhile; what the operation refuses
 */
export async function settleDifference(
  work: Work,
  timeZone: string,
  lineId: string,
  said: Settlement,
): Promise<{ stocktakeId: string; words: string }> {
  const { stocktake, line, others } = await lockLine(work, lineId);
  refuseUnready(line, said);
  const at = line.counts.at(-1)?.at ?? work.now;
  // What the records said before: what follows changes them for the time of the count.
  await fixExpected(work, [lineId]);
  const done = await settleBy(
    work,
    { timeZone, line, others, at, note: noteOf(stocktake.name, said.note) },
    said,
  );
  const data = {
    ...settledBy(work, said),
    change: said.difference,
    ledgerEntryId: done.ledgerEntryId ?? null,
  };
  if (said.as !== 'moved') await work.tx.stocktakeLine.update({ where: { id: lineId }, data });
  const { code, foundAs } = line;
  const { as, difference: change, note } = said;
  work.record('stocktake.settled', ofStocktake(stocktake.id), { code: code || foundAs, as, change, note });
  return { stocktakeId: stocktake.id, words: done.words };
}

const noteOf = (name: string, note: string) => `Stocktake “${name}”${note === '' ? '' : `: ${note}`}`;

const settledBy = (work: Work, { as, note }: Settlement) => ({
  ...{ reason: as, note, settledAt: work.now, settledById: work.accountId },
});

function refuseUnready(line: StocktakeLot, { as, difference }: Settlement): void {
  const { is } = line;
  if (is.state === 'again')
    throw new Refusal('Count it again first: one count alone is not enough here.', { status: 409 });
  if (is.state !== 'differs' || is.difference !== difference)
    throw new Refusal('The count or the records changed meanwhile. Look at it again.', { status: 409 });
  if (!reasonsFor(askedOf(line)).includes(as))
    throw new Refusal('That cannot be what this difference was. Choose from the list.', { field: 'as' });
}

/** A line as `reasonsFor` asks for it. */
export const askedOf = ({ lotId, standsHere, pieces, is }: StocktakeLot) => ({
  isNamed: lotId !== null,
  elsewhere: standsHere ? null : pieces,
  difference: is.state === 'open' ? 0 : is.difference,
});

interface Settling {
  timeZone: string;
  line: StocktakeLot;
  others: readonly StocktakeLot[];
  at: Date;
  note: string;
}

interface Settled {
  ledgerEntryId?: string;
  words: string;
}

async function settleBy(work: Work, of: Settling, said: Settlement): Promise<Settled> {
  const { line, at, note } = of;
  const { as, difference, cause, buyer, despite } = said;
  if (as === 'noted' || line.lotId === null) return { words: `“${line.foundAs}” is noted.` };
  const lotId = line.lotId;
  const of1 = { lotId, at, note };
  const gone = Math.abs(difference);
  if (as === 'moved') return settleMove(work, of, said);
  if (as === 'split') {
    const slotIds = [slotOf(said)];
    const made = await splitLot(work, { fromLotId: lotId, pieces: difference, at, note, slotIds, despite });
    return { words: `${gone} of ${line.code} are the lot ${made.code} now.` };
  }
  if (as === 'sold') {
    const sale = { lotId, pieces: gone, buyer, at, note, tagId: null, holdId: null, despite };
    const { id, orderId } = await sellSingle(work, of.timeZone, sale);
    const { ledgerEntryId } = await work.tx.sale.findUniqueOrThrow({ where: { id } });
    const order = await work.tx.salesOrder.findUniqueOrThrow({ where: { id: orderId } });
    return { ledgerEntryId, words: `The sale of ${gone} of ${line.code} is order ${order.number}.` };
  }
  if (as === 'lost' || as === 'received') {
    const { entryId } = await countLot(work, {
      ...of1,
      reason: as,
      pieces: gone,
      cause,
      despite: despite || said.note,
    });
    return { ledgerEntryId: entryId, words: `${line.code}: ${gone} ${as === 'lost' ? 'lost' : 'received'}.` };
  }
  const pieces = (await piecesAt(work.tx, lotId, at)) + difference;
  const { entryId } = await countLot(work, { ...of1, reason: 'recount', pieces });
  return { ledgerEntryId: entryId, words: `${line.code} is ${pieces} then.` };
}

function slotOf({ slot }: Settlement): string {
  if (slot === '') throw new Refusal('Choose its slot.', { field: 'slot' });
  return slot;
}

/**
 * The lot stands where it was found: the records have it there now, so that its count there is right, or differs by the
 * rest. Its count on the rack it stood on before is settled with it.
 */
async function settleMove(
  work: Work,
  { line, others, at, note }: Settling,
  said: Settlement,
): Promise<Settled> {
  const lotId = line.lotId as string;
  const home = others.find(({ is, reason }) => reason === null && is.state !== 'open' && is.difference < 0);
  if (home?.lineId != null) await fixExpected(work, [home.lineId]);
  const { place } = await moveLot(work, {
    lotId,
    slotIds: [slotOf(said)],
    at,
    reason: note,
    despite: said.despite,
  });
  if (home?.lineId != null) {
    const change = home.is.state === 'open' ? 0 : home.is.difference;
    await work.tx.stocktakeLine.update({
      where: { id: home.lineId },
      data: { ...settledBy(work, said), change },
    });
  }
  return { words: `${line.code} is on ${place}.` };
}

/** What wrote a line of the ledger that the opposite line takes back. */
const reversible: ReadonlySet<string> = new Set<Reason>(['lost', 'received', 'miscounted', 'found', 'noted']);

/**
 * Takes the settlement of a difference back: its pieces are on the count again, or off it, and the difference is open.
 * @throws Refusal 404; 409 where it is not settled, or is a sale or a move, which are taken back where they stand
 */
export async function takeSettlementBack(work: Work, lineId: string): Promise<{ stocktakeId: string }> {
  const { row, stocktake, line } = await lockLine(work, lineId);
  if (row.reason === null || row.change === null)
    throw new Refusal('This difference is not settled.', { status: 409 });
  if (!reversible.has(row.reason))
    throw new Refusal(
      'Take the sale back on its order, or move the lot on its own page. Then count it again here.',
      { status: 409 },
    );
  await work.tx.stocktakeLine.update({ where: { id: lineId }, data: unsettled });
  if (row.ledgerEntryId !== null)
    await takeCountBack(work, row.ledgerEntryId, noteOf(stocktake.name, 'taken back'));
  const { code, foundAs } = line;
  work.record('stocktake.unsettled', ofStocktake(stocktake.id), { code: code || foundAs, was: row.reason });
  return { stocktakeId: stocktake.id };
}

/**
 * Says which lot it is that was found: it counts as that lot on that rack.
 * @throws Refusal 404 where no lot of the site has this code; 409 where it is known already
 */
export async function nameFound(work: Work, lineId: string, lotId: string): Promise<{ stocktakeId: string }> {
  const { row, stocktake } = await lockLine(work, lineId);
  if (row.lotId !== null) throw new Refusal('It is known already which lot this is.', { status: 409 });
  const { rackId, foundAs } = row;
  const same = await work.tx.stocktakeLine.findFirst({ where: { stocktakeId: stocktake.id, rackId, lotId } });
  if (same === null) await work.tx.stocktakeLine.update({ where: { id: lineId }, data: { lotId } });
  else
    throw new Refusal('This lot was counted on this rack already. Count the rack again with these pieces.', {
      status: 409,
      field: 'code',
    });
  await fixExpected(work, [lineId]);
  const lot = await work.tx.lot.findUniqueOrThrow({ where: { id: lotId } });
  work.record('stocktake.found_named', ofStocktake(stocktake.id), { code: lot.code, foundAs });
  return { stocktakeId: stocktake.id };
}

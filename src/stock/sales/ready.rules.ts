import { dayMs, hourMs } from '../../science/numeric/time.ts';
import { LOOK_DAYS } from './readiness.rules.ts';

/** What is known of a lot with pieces, as far as it decides whether they are ready to be sold. Times in ms since 1970. */
export interface StockLot {
  id: string;
  code: string;
  /** The name of its kind. */
  kind: string;
  pieces: number;
  isMother: boolean;
  sizeMm: number | null;
  /** Its cut, else its arrival. */
  bornMs: number;
  /** Days that it is kept back from then on, and the size from which it is sold, mm; null where nobody says. */
  keptBackDays: number | null;
  leastMm: number | null;
  quarantineUntilMs: number | null;
  acclimating: boolean;
  /** What was noted of it last; null where nothing was. */
  noted: { well: boolean; atMs: number } | null;
  /** Since when it stands where it stands, and the racks; null and none where it stands nowhere. */
  fromMs: number | null;
  rackIds: readonly string[];
}

/** What speaks of all lots on a rack. */
export interface StockRack {
  quarantine: boolean;
  /** Its water is under watch for a pest. */
  watched: boolean;
  /** An alert is open on the whole water that keeps everything there. */
  troubled: boolean;
  /** When somebody passed it last and found it well. */
  passedMs: number | null;
}

/** What changes from one page to the next without the lot. */
export interface StockNow {
  nowMs: number;
  racks: ReadonlyMap<string, StockRack>;
  /** Pieces promised to buyers, by lot. */
  promised: ReadonlyMap<string, number>;
  /** Lots that an open alert tells of. */
  warned: ReadonlySet<string>;
  /** Lots of which a note was not taken and nobody put it right. */
  noteWaits: ReadonlySet<string>;
  /** Lots of which the last pass of their rack says nothing. */
  unsaid: ReadonlySet<string>;
}

/** A look within so many ms counts: whole days are counted down. */
export const LATELY_MS = (LOOK_DAYS + 1) * 24 * hourMs;

/** Nothing that lasts speaks against selling it: what the lot itself is, and how it looked last. */
export const mayBeSold = ({ isMother, acclimating, noted, leastMm, sizeMm }: StockLot): boolean =>
  !isMother &&
  !acclimating &&
  noted?.well !== false &&
  (leastMm === null || leastMm === 0 || (sizeMm !== null && sizeMm >= leastMm));

/**
 * Whether nothing speaks against selling the free pieces of a lot that may be sold: the same as `notReadyReasons` finds,
 * without the words. 'unless not looked at': only its looks before it came to where it stands could still say no.
 */
export function judgeStock(lot: StockLot, at: StockNow): 'ready' | 'not' | 'unless not looked at' {
  const { nowMs, racks, warned, noteWaits, unsaid } = at;
  const { noted, fromMs, quarantineUntilMs } = lot;
  if (freeOf(lot, at) <= 0 || isKeptBack(lot, nowMs) || warned.has(lot.id) || noteWaits.has(lot.id))
    return 'not';
  if (quarantineUntilMs !== null && quarantineUntilMs > nowMs) return 'not';
  const lately = nowMs - LATELY_MS;
  const isUnsaid = unsaid.has(lot.id);
  let looked = noted !== null && noted.atMs > lately;
  for (const id of lot.rackIds) {
    const rack = racks.get(id);
    if (rack === undefined) continue;
    if (rack.quarantine || rack.watched || rack.troubled) return 'not';
    const { passedMs } = rack;
    looked ||= !isUnsaid && passedMs !== null && passedMs > lately && fromMs !== null && passedMs >= fromMs;
  }
  if (looked) return 'ready';
  return fromMs !== null && fromMs < lately && !isUnsaid ? 'not' : 'unless not looked at';
}

/** Pieces that nobody is promised. */
export const freeOf = ({ id, pieces }: StockLot, { promised }: Pick<StockNow, 'promised'>): number =>
  pieces - (promised.get(id) ?? 0);

const isKeptBack = ({ keptBackDays, bornMs }: StockLot, nowMs: number): boolean =>
  keptBackDays !== null && Math.floor((nowMs - bornMs) / dayMs) < keptBackDays;

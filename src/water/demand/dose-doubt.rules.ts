import type { DemandReading, DemandRecord } from './rate.rules.ts';
import { isBetween } from './rate.rules.ts';

/** What went in between two looks into a container, as the rise of the level; days since 1970. */
export interface LookedInto {
  fromDay: number;
  toDay: number;
}

/** Two tests further apart than this say nothing of single days; own choice. */
const longestGap = 4;
/** Fewest pairs of tests, of late and in the past; own choice. */
const fewest = { late: 4, past: 15 };
/** A pair further off than so many middle ones counts as that far: a slip. Own choice. */
const slipLimit = 9;
/** The scatter of late is this much above the usual one, in its own standard errors, before the doser is taken to swing; by simulation. */
const guard = 0.75;

/**
 * By how much (SD, canonical unit a day^1/2) what is put in each day differs from what was told, by the tests alone: from test to
 * test the level moves by more than it did in the past. Doses that are too large one day and too small the next add up like steps
 * of a drunkard, so that a line through the tests is less sure than their scatter about it says. 0 where they move as usual.
 *
 * @param days length of the present and of the past that it is compared with
 */
export function doseSwing(record: DemandRecord, last: number, days: { late: number; past: number }): number {
  const late = movesOf(record, last - days.late, last);
  const past = movesOf(record, last - days.late - days.past, last - days.late);
  if (late.length < fewest.late || past.length < fewest.past) return 0;
  const usual = meanSquare(past);
  const excess = meanSquare(late) - usual * (1 + guard * Math.sqrt(2 / late.length));
  const gap = late.reduce((sum, one) => sum + one.gap, 0) / late.length;
  return Math.sqrt(Math.max(0, excess) / gap);
}

/** Days of a stretch that no look into the container vouches for. */
export const daysInDoubt = (looked: readonly LookedInto[], from: number, to: number): number =>
  looked.reduce(
    (left, { fromDay, toDay }) => left - Math.max(0, Math.min(to, toDay) - Math.max(from, fromDay)),
    to - from,
  );

interface Move {
  gap: number;
  off: number;
}

/** From test to test by one instrument: what is left of the move once doses, changes and the mean use are taken out. */
function movesOf({ readings, log }: DemandRecord, from: number, to: number): Move[] {
  const inside = readings.filter(isBetween(from, to)).filter(isRelied);
  const moves = inside.slice(1).flatMap((reading, i) => {
    const before = inside[i] as DemandReading;
    const gap = reading.day - before.day;
    if (gap > longestGap || gap <= 0 || reading.instrument !== before.instrument) return [];
    const during = <T extends { day: number }>(all: readonly T[]) =>
      all.filter(({ day }) => day >= before.day && day < reading.day);
    const dosed = during(log.doses).reduce((sum, { rise }) => sum + rise, 0);
    const changed = during(log.changes).reduce(
      (sum, { fraction, makeUp }) => sum + fraction * ((makeUp ?? log.makeUp ?? before.value) - before.value),
      0,
    );
    return [{ gap, off: reading.value - before.value - dosed - changed }];
  });
  const days = moves.reduce((sum, { gap }) => sum + gap, 0);
  const perDay = moves.reduce((sum, { off }) => sum + off, 0) / Math.max(1, days);
  return moves.map(({ gap, off }) => ({ gap, off: off - perDay * gap }));
}

const isRelied = ({ trust, below }: DemandReading) => !below && (trust === 'plain' || trust === 'confirmed');

function meanSquare(moves: readonly Move[]): number {
  const squares = moves.map(({ off }) => off ** 2).sort((a, b) => a - b);
  const most = slipLimit * (squares[Math.floor((squares.length - 1) / 2)] ?? 0);
  return squares.reduce((sum, square) => sum + Math.min(square, most), 0) / moves.length;
}

import type { LedgerReason, LossCause } from '../../generated/prisma/enums.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import type { Followed } from '../../science/survival.ts';
import { LEFT_ALIVE } from '../losses/causes.rules.ts';

/** A change of the count of a lot that was cut, after the cut. */
export interface CountLine {
  at: Date;
  /** Pieces that came (plus) or went. */
  change: number;
  reason: LedgerReason;
  /** Where a count after the cut took them off: how many of them were not found. */
  missing: number | null;
  /** Of a loss; null where nobody said. */
  cause?: LossCause | null;
  /** It belongs to a count that was taken back. */
  voided: boolean;
}

/** What became of the pieces of one cut. */
export interface CutPieces {
  cutAt: Date;
  pieces: number;
  lines: readonly CountLine[];
  /** When all pieces were counted after the cut. */
  looks: readonly Date[];
}

/** The pieces of a cut as they were followed, in days after it, and how long nobody looked before a loss was found. */
export interface FollowedCut {
  pieces: Followed[];
  /** Days between the look before and the one at which a loss was found. */
  gaps: number[];
}

const time = (cutAt: Date, at: Date) => Math.max(0, daysBetween(cutAt, at));

/**
 * How long each piece of a cut is known to have lived. A loss counts on the day it was found. A piece that was sold, moved
 * to another lot or cut up lived until then; one that was not found is followed no longer than the look before. What is
 * left was alive at the last look: of later days nothing is known, and without a look nothing at all.
 */
export function followCut({ cutAt, pieces, lines, looks }: CutPieces): FollowedCut {
  const followed: Followed[] = [];
  const gaps: number[] = [];
  let [left, seenAt] = [pieces, 0];
  const take = (count: number, at: number, lost: boolean) => {
    const taken = Math.max(0, Math.min(count, left));
    left -= taken;
    for (let i = 0; i < taken; i++) followed.push({ time: at, lost });
    return taken;
  };
  for (const event of eventsOf(lines, looks)) {
    const at = time(cutAt, event.at);
    if (event.line === null) {
      seenAt = Math.max(seenAt, at);
      continue;
    }
    const { change, reason, missing, cause } = event.line;
    // Pieces of elsewhere joined it: from here on nobody can tell them apart.
    if (change > 0 && (reason === 'merged' || reason === 'received' || reason === 'split')) break;
    if (change >= 0) continue;
    if (reason === 'lost' && LEFT_ALIVE.includes(cause ?? null)) take(-change, at, false);
    else if (reason === 'lost' && cause === 'astray') take(-change, seenAt, false);
    else if (reason === 'lost') {
      take(missing ?? 0, seenAt, false);
      if (take(-change - (missing ?? 0), at, true) > 0) gaps.push(at - seenAt);
      // Who takes the dead off the count has seen the others.
      seenAt = Math.max(seenAt, at);
    } else take(-change, reason === 'recount' ? seenAt : at, false);
  }
  take(left, seenAt, false);
  return { pieces: followed, gaps };
}

function eventsOf(lines: readonly CountLine[], looks: readonly Date[]) {
  return [
    ...lines.filter(({ voided }) => !voided).map((line) => ({ at: line.at, line, order: 0 })),
    ...looks.map((at) => ({ at, line: null, order: 1 })),
  ].sort((a, b) => a.at.getTime() - b.at.getTime() || a.order - b.order);
}

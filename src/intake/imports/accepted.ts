import type { Reader } from '../../platform/service.ts';
import { plural } from '../../platform/words/numbers.ts';
import { sayReading } from '../../water/quantities/quantities.ts';

const newestShown = 5;

/** What became of a file that was taken: its newest readings, and how many of them stand. */
export async function acceptedView(db: Reader, importId: string) {
  const newest = await db.reading.findMany({
    where: { importId },
    include: { quantity: true, system: { select: { id: true, name: true } } },
    orderBy: [{ at: 'desc' }, { id: 'asc' }],
    take: newestShown,
  });
  const groups = await db.reading.groupBy({
    by: ['trust'],
    where: { importId, voidedAt: null },
    _count: { _all: true },
  });
  const refused = await db.import.findUniqueOrThrow({ where: { id: importId }, select: { refused: true } });
  const number = (trust: string) => groups.find((group) => group.trust === trust)?._count._all ?? 0;
  const standing = groups.reduce((sum, group) => sum + group._count._all, 0);
  const doubted = number('unconfirmed') + number('refuted');
  return {
    standing,
    standingWords: standing === 0 ? 'All of them are taken back.' : `${plural(standing, 'stands', 'stand')}.`,
    doubtWords:
      doubted === 0
        ? ''
        : `${plural(doubted, 'of them surprises', 'of them surprise')} beside the readings around and ${doubted === 1 ? 'counts' : 'count'} as not confirmed.`,
    hasRefused: refused.refused !== '',
    newest: newest.map((reading) => ({
      id: reading.id,
      at: reading.at,
      system: reading.system.name,
      href: `/water/systems/${reading.system.id}?quantity=${reading.quantityCode}`,
      quantity: reading.quantity.name,
      said: sayReading(reading.quantity, {
        ...reading,
        below: reading.belowDetection,
        above: reading.aboveScale,
      }),
      entered: reading.enteredText,
      voided: reading.voidedAt !== null,
      unconfirmed: reading.trust === 'unconfirmed' || reading.trust === 'refuted',
    })),
  };
}

import type { Trust } from '../../generated/prisma/client.ts';
import type { Tx } from '../../platform/service.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import { listQuantities, sayReading } from '../quantities/quantities.ts';
import { loadHistories, type ReadingHistory } from '../trust/history.ts';
import { recordPeriodWords } from '../trust/surprise.rules.ts';
import { judgeReading } from '../trust/trust.rules.ts';

/** A test as it was just written down. */
interface Entered {
  id: string;
  quantityCode: string;
  at: Date;
  value: number;
  below: boolean;
  above: boolean;
}

/** What settles a test that waited, as `settleReadings` takes it. */
interface Settled {
  id: string;
  trust: Extract<Trust, 'confirmed'>;
  reason: string;
  by: string;
}

/**
 * The unconfirmed tests by people after one that was written down late, judged anew: what the tests before now lead to, or
 * what lies on the side of one of them, waits for no repeat. So the order of entering does not matter.
 * `histories`: by quantity, as they were before it was entered.
 */
export async function settledByLate(
  tx: Tx,
  systemId: string,
  entered: readonly Entered[],
  histories: ReadonlyMap<string, ReadingHistory>,
): Promise<Settled[]> {
  const later = entered.flatMap((late) =>
    (histories.get(late.quantityCode)?.later ?? []).map((reading) => ({ late, reading })),
  );
  if (later.length === 0) return [];
  const waiting = await tx.reading.findMany({
    where: { id: { in: later.map(({ reading }) => reading.id) }, trust: 'unconfirmed', accessKeyId: null },
    select: { id: true },
  });
  if (waiting.length === 0) return [];
  const quantities = await listQuantities(tx);
  const settled: Settled[] = [];
  for (const { late, reading } of later.filter((one) => waiting.some(({ id }) => id === one.reading.id))) {
    const quantity = quantities.find(({ code }) => code === late.quantityCode);
    const history = (await loadHistories(tx, systemId, [late.quantityCode], reading.at)).get(
      late.quantityCode,
    );
    if (quantity === undefined || history === undefined) continue;
    const pending = history.pending.filter(({ id }) => id !== reading.id);
    const { trust, settledBy } = judgeReading(reading, { quantity, ...history, pending });
    if (trust !== 'plain' && trust !== 'confirmed') continue;
    const before = `${recordPeriodWords(daysBetween(late.at, reading.at))} before`;
    const reason = `Confirmed by ${sayReading(quantity, late)} ${before}, which was entered later.`;
    settled.push({ id: reading.id, trust: 'confirmed', reason, by: settledBy ?? late.id });
  }
  return settled;
}

import type { Work } from '../../src/platform/change.ts';

/** Lots that came together, as the delivery they came in: what was counted is what each lot has. */
export async function recordDelivery(
  work: Work,
  delivery: { siteId: string; supplier: string; cameAt: Date; boxDegC: number; hours: number },
  lots: readonly { id: string; name: string; pieces: number; par: number | null }[],
): Promise<void> {
  const { id } = await work.tx.delivery.create({
    data: {
      ...delivery,
      boxSalinity: 34,
      claimHours: 48,
      accountId: work.accountId,
      createdAt: delivery.cameAt,
    },
  });
  await work.tx.deliveryLine.createMany({
    data: lots.map(({ id: lotId, name, pieces, par }, position) => ({
      ...{ deliveryId: id, position, lotId, name, ordered: pieces, invoiced: pieces, counted: pieces },
      ...{ arrivedDead: 0, lightKnown: par === null ? 'unknown' : 'stated', lightPar: par },
    })),
  });
  work.record(
    'delivery.received',
    { type: 'delivery', id },
    { supplier: delivery.supplier, lots: lots.length },
  );
}

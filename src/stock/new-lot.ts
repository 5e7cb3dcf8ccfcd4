import { randomInt } from 'node:crypto';
import type { Prisma } from '../generated/prisma/client.ts';
import type { Tx } from '../platform/service.ts';
import { type Random, seededRandom } from '../science/random.ts';
import { makeCode } from './codes.ts';

/** What a lot is made from when it comes out of another one. */
export type Descent = Pick<
  Prisma.LotUncheckedCreateInput,
  'siteId' | 'kindId' | 'parentId' | 'isMother' | 'origin' | 'permit' | 'sizeMm' | 'arrivedAt' | 'note'
>;

/** How many codes are thrown at once: with half of all codes taken, one in a billion throws finds no free one. */
const CODES_THROWN = 30;

async function freeCode(tx: Tx, random: Random): Promise<string> {
  const codes = Array.from({ length: CODES_THROWN }, () => makeCode(random));
  const taken = await tx.lot.findMany({ where: { code: { in: codes } }, select: { code: true } });
  const free = codes.find((code) => !taken.some((lot) => lot.code === code));
  if (free === undefined) throw new Error('no free lot code');
  return free;
}

/** Makes the row of a lot under a new code; what it holds is written by its ledger. */
export async function makeLot(
  tx: Tx,
  lot: Descent,
  random: Random = seededRandom(randomInt(2 ** 48 - 1)),
): Promise<{ id: string; code: string }> {
  const code = await freeCode(tx, random);
  const { id } = await tx.lot.create({ data: { ...lot, code } });
  return { id, code };
}

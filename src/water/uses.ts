import type pg from 'pg';
import { readDemand } from './demand.ts';
import { rateNow } from './demand-part.rules.ts';
import { sayADay } from './demand-words.rules.ts';
import type { Quantity } from './quantities/quantities.ts';

/** Days of readings and doses that a use of today is worked out from. */
const daysRead = 60;

/** What each system uses of alkalinity a day, in words ("used 0.30 dKH a day"); none where it cannot be told. Six queries. */
export async function alkalinityUses(
  pool: pg.Pool,
  systemIds: readonly string[],
  quantity: Quantity | undefined,
  now: Date,
): Promise<Map<string, string>> {
  if (quantity === undefined) return new Map();
  const today = now.getTime() / 86_400_000;
  const demands = await readDemand(pool, [...systemIds], now, daysRead);
  const words = [...demands].flatMap(([systemId, parts]) => {
    const part = parts.get('alkalinity');
    const rate = part === undefined ? null : rateNow(part, 'alkalinity', today).rate;
    if (rate === null || rate.high >= 0) return [];
    return [[systemId, `used ${sayADay(quantity, -rate.perDay, rate.level)} a day`] as const];
  });
  return new Map(words);
}

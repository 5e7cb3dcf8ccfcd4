import type { Kit, Method } from '../../generated/prisma/client.ts';
import type { Reader } from '../../platform/service.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import type { Quantity } from '../quantities/quantities.ts';

/** The quantities, methods and kits that an entry may name. */
export interface InstrumentCatalog {
  quantities: ReadonlyMap<string, Quantity>;
  methods: readonly (Method & { kits: Kit[] })[];
}

/** What a reading was made with. */
export interface Instrument {
  method: Method | null;
  kitId: string | null;
  kitOpenedAt: Date | null;
}

/** Whether a method is an instrument that stays in the water, read off or reporting by itself. */
export const isProbe = (method: Pick<Method, 'isProbe' | 'everyMinutes'> | null): boolean =>
  method !== null && (method.isProbe || method.everyMinutes !== null);

/** The methods and kits of some quantities. Two queries. */
export async function loadInstrumentCatalog(
  db: Reader,
  codes: readonly string[],
): Promise<InstrumentCatalog> {
  const quantities = await db.quantity.findMany({ where: { code: { in: [...codes] } } });
  const methods = await db.method.findMany({
    where: { quantityCode: { in: [...codes] } },
    include: { kits: true },
    orderBy: [{ isDefault: 'desc' }, { name: 'asc' }],
  });
  return { quantities: new Map(quantities.map((quantity) => [quantity.code, quantity])), methods };
}

/** The method and kit an entry names; the quantity's usual method when it names none. */
export function resolveInstrument(
  { methods }: InstrumentCatalog,
  entry: { methodId?: string | null | undefined; kitId?: string | null | undefined },
  quantity: Quantity,
  at: Date,
): Instrument | { refused: string } {
  const own = methods.filter((method) => method.quantityCode === quantity.code);
  const kits = own.flatMap((method) => method.kits);
  const kit = entry.kitId ? kits.find((one) => one.id === entry.kitId) : null;
  const methodId = entry.methodId || kit?.methodId;
  const method = methodId
    ? own.find((one) => one.id === methodId)
    : (own.find((one) => one.isDefault) ?? own[0] ?? null);
  const name = nameInSentence(quantity.name);
  if (method === undefined) return { refused: `That is not a method for ${name}. Choose one of the list.` };
  if (kit === undefined) return { refused: `That kit does not measure ${name}. Choose one of the list.` };
  if (kit !== null && kit.methodId !== method?.id) {
    return {
      refused: `The kit ${kit.label} belongs to another method than ${method?.name}. Choose one of the two.`,
    };
  }
  if (kit?.retiredAt && kit.retiredAt < at)
    return { refused: `The kit ${kit.label} was retired before that. Choose one in use.` };
  if (kit && kit.openedAt > at)
    return {
      refused: `The kit ${kit.label} was not opened yet at that time. Check the time, or choose another kit.`,
    };
  return { method, kitId: kit?.id ?? null, kitOpenedAt: kit?.openedAt ?? null };
}

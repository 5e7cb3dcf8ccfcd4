import type { FarmContext } from '../file/farm-context.ts';

interface InstrumentChoice {
  value: string;
  text: string;
  /** What it measures. */
  quantity: ReturnType<FarmContext['instruments']['quantities']['get']>;
}

/** The instruments in use, as a list to choose from; those that report by themselves first. */
export function instrumentChoices({ instruments }: FarmContext): InstrumentChoice[] {
  const kits = instruments.methods.flatMap((method) =>
    method.kits
      .filter((kit) => kit.retiredAt === null)
      .map((kit) => ({
        value: kit.id,
        text: `${instruments.quantities.get(method.quantityCode)?.name ?? ''}: ${kit.label}${method.everyMinutes === null ? ' (by hand)' : ''}`,
        byHand: method.everyMinutes === null,
        quantity: instruments.quantities.get(method.quantityCode),
      })),
  );
  return kits.sort((a, b) => Number(a.byHand) - Number(b.byHand)).map(({ byHand, ...choice }) => choice);
}

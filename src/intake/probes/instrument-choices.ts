import type { FarmContext } from '../file/farm-context.ts';

/** The instruments in use, as a list to choose from; those that report by themselves first. */
export function instrumentChoices({ instruments }: FarmContext): { value: string; text: string }[] {
  const kits = instruments.methods.flatMap((method) =>
    method.kits
      .filter((kit) => kit.retiredAt === null)
      .map((kit) => ({
        value: kit.id,
        text: `${instruments.quantities.get(method.quantityCode)?.name ?? ''}: ${kit.label}${method.everyMinutes === null ? ' (by hand)' : ''}`,
        byHand: method.everyMinutes === null,
      })),
  );
  return kits.sort((a, b) => Number(a.byHand) - Number(b.byHand)).map(({ value, text }) => ({ value, text }));
}

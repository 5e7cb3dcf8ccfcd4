import { andWords } from '../../platform/words/lists.ts';
import type { SystemNumbers } from './system-numbers.rules.ts';

/** A move between two tests that systems going the same way are said to share, canonical unit. Own choice. */
const moves = { ph: 0.1, temperature: 0.7, salinity: 0.5, alkalinity: 0.18 } as const;

/** A quantity in which systems that go the same way share a cause. */
export type SharedQuantity = keyof typeof moves;

const words = {
  ph: 'pH',
  temperature: 'Temperature',
  salinity: 'Salinity',
  alkalinity: 'Alkalinity',
} as const;

/**
 * Systems that share a cause, in words: readings that go the same way together, and, where a circuit can be behind it,
 * circuits that several hang on.
 */
export function sharedCauses(
  { shared, power }: { shared?: SharedQuantity; power?: true },
  systems: readonly SystemNumbers[],
): string[] {
  return [...together(shared, systems), ...(power ? circuits(systems) : [])];
}

function together(shared: SharedQuantity | undefined, systems: readonly SystemNumbers[]): string[] {
  if (shared === undefined) return [];
  const moving = (sign: 1 | -1) =>
    systems
      .filter(({ readings }) => sign * (readings[shared]?.before?.change ?? 0) >= moves[shared])
      .map(({ name }) => name);
  return ([-1, 1] as const).flatMap((sign) => {
    const names = moving(sign);
    if (names.length < 2) return [];
    return [
      `${words[shared]} ${sign < 0 ? 'falls' : 'rises'} in ${andWords(names)} together: look for one cause. What do they share: air, make-up water, a kit, hands?`,
    ];
  });
}

function circuits(systems: readonly SystemNumbers[]): string[] {
  const hung = systems.flatMap(({ name, circuits: own }) =>
    own.map((circuit) => ({ system: name, circuit: circuit.name })),
  );
  const onEach = [...Map.groupBy(hung, ({ circuit }) => circuit)].filter(([, on]) => on.length > 1);
  const bySystems = Map.groupBy(onEach, ([, on]) => andWords(on.map(({ system }) => system)));
  return [...bySystems].map(([names, alike]) => {
    const [first] = alike.map(([circuit]) => circuit);
    return alike.length === 1
      ? `${names} are on the same circuit: ${first}.`
      : `${names} are on the same circuits: ${andWords(alike.map(([circuit]) => circuit))}.`;
  });
}

import type { Member } from '../../../src/science/scan.ts';
import { type Random, seededRandom } from '../../../src/science/statistics/random.ts';

/** What an outbreak can be of. */
export const sources = ['rack', 'tank', 'system', 'cut batch', 'kind', 'delivery', 'lamps', 'bath'] as const;
export type Source = (typeof sources)[number];

/** A farm of 150 to 500 lots with some of them affected; `source` is where the outbreak truly is, null where none is. */
export interface OutbreakWorld {
  members: Member[];
  truth: { by: string; name: string } | null;
}

const pick = (random: Random, share: number) => random.uniform() < share;

/**
 * `rough`: kinds cluster on racks more, the usual losses differ by rack and family (looks are kept better here than there),
 * outbreaks are fainter, and a few lots outside share the illness.
 */
export function outbreakWorld(seed: number, source: Source | null, rough: boolean): OutbreakWorld {
  const random = seededRandom(seed);
  const total = 150 + random.below(351);
  const [systems, tanks, racks] = [2 + random.below(3), 6 + random.below(5), 18 + random.below(13)];
  const rackKind = Array.from({ length: racks }, () => random.below(14));
  const batches = 40 + random.below(30);
  const batchRack = Array.from({ length: batches }, () => random.below(racks));
  const rackNoise = Array.from({ length: racks }, () => Math.exp((rough ? 0.4 : 0) * random.normal()));
  const batchNoise = Array.from({ length: batches }, () => Math.exp((rough ? 0.4 : 0) * random.normal()));
  const lots = Array.from({ length: total }, () => {
    const batch = pick(random, 0.75) ? random.below(batches) : null;
    const home = batch === null ? random.below(racks) : (batchRack[batch] ?? 0);
    const rack = pick(random, rough ? 0.85 : 0.7) ? home : random.below(racks);
    const tank = rack % tanks;
    const kind =
      batch === null ? (pick(random, 0.7) ? (rackKind[rack] ?? 0) : random.below(14)) : (rackKind[home] ?? 0);
    const groups: Record<string, string | null> = {
      system: `S${tank % systems}`,
      tank: `T${tank}`,
      rack: `R${rack}`,
      light: `${Math.floor(rack % 5)}`,
      flow: ['low', 'medium', 'high'][random.below(3)] ?? null,
      kit: `Kit ${tank % systems}`,
      kind: `K${kind}`,
      group: `G${kind % 4}`,
      mother: batch === null ? null : `M${batch % 25}`,
      'cut batch': batch === null ? null : `B${batch}`,
      'cut by': batch === null ? null : `P${batch % 3}`,
      delivery: batch === null ? `D${random.below(12)}` : null,
      lamps: rack % 4 === 0 ? `Row ${rack % 8}` : null,
      moved: pick(random, 0.1) ? `day ${random.below(10)}` : null,
      bath: pick(random, 0.06) ? `bath ${random.below(2)}` : null,
    };
    const usual = 0.02 * (rackNoise[rack] ?? 1) * (batch === null ? 1 : (batchNoise[batch] ?? 1));
    return { groups, usual };
  });
  const truth = source === null ? null : sourceOf(lots, source, random);
  const attack = rough ? 0.3 + 0.5 * random.uniform() : 0.5 + 0.4 * random.uniform();
  const members = lots.map(({ groups, usual }) => {
    const struck = truth !== null && groups[truth.by] === truth.name && pick(random, attack);
    return { groups, affected: struck || pick(random, usual) };
  });
  return { members, truth };
}

/** One group of that kind with at least five lots and no more than a third of all. */
function sourceOf(
  lots: readonly Member['groups'][] | readonly { groups: Member['groups'] }[],
  by: Source,
  random: Random,
) {
  const names = Map.groupBy(
    lots as readonly { groups: Member['groups'] }[],
    ({ groups }) => groups[by] ?? '',
  );
  const fit = [...names].filter(
    ([name, all]) =>
      name !== '' && all.length >= 5 && all.length <= (by === 'system' ? 0.7 : 0.34) * lots.length,
  );
  const [name] = fit[random.below(Math.max(1, fit.length))] ?? [];
  return name === undefined ? null : { by, name };
}

import { type Random, seededRandom } from '../../../src/science/statistics/random.ts';
import type { LossHistory } from '../../../src/stock/losses/usual.rules.ts';

/** How losses come in a made-up water: own choices, rougher than those the limits were tuned on where `rough`. */
export interface LossWorld {
  seed: number;
  days: number;
  rough: boolean;
  /** From which day on part of the lots of one kind (or of all) lose pieces within ten days; null: never. */
  outbreak: { day: number; ofKind: boolean; attack: number } | null;
}

/** A water of 30 to 150 lots of 3 to 8 kinds with the losses of two years, day by day. */
export function lossWorld({ seed, days, rough, outbreak }: LossWorld): LossHistory {
  const random = seededRandom(seed);
  const lots = 30 + random.below(121);
  const kinds = 3 + random.below(6);
  // A lot loses pieces about once in one to four years.
  const usual = 1 / (365 * (1 + 3 * random.uniform()));
  const kindFactor = Array.from({ length: kinds }, () => Math.exp((rough ? 0.8 : 0.3) * random.normal()));
  const stays = Array.from({ length: lots }, (_, i) => {
    const kind = Math.floor(kinds * random.uniform() ** 1.5);
    const fromDay = random.uniform() < 0.5 ? 0 : random.below(days);
    const stays = random.uniform() < 0.6 ? null : fromDay + 60 + random.below(400);
    return {
      ...{ lotId: `lot ${i}`, code: `L${i}`, kindId: `kind ${kind}`, kindName: `Kind ${kind}`, kind },
      ...{ fromDay, toDay: stays, family: Math.floor(i / 4) },
    };
  });
  const deaths: { id: string; lotId: string; day: number; pieces: number }[] = [];
  const here = (stay: (typeof stays)[number], day: number) =>
    stay.fromDay <= day && (stay.toDay === null || stay.toDay > day);
  const lose = (lotId: string, day: number) => deaths.push({ id: `${deaths.length}`, lotId, day, pieces: 1 });
  let week = 1;
  for (let day = 0; day < days; day++) {
    if (day % 7 === 0) week = rough ? Math.exp(0.7 * random.normal() - 0.245) : 1;
    const season = rough ? 1 + 0.5 * Math.sin((2 * Math.PI * day) / 365) : 1;
    for (const stay of stays) {
      if (!here(stay, day)) continue;
      if (random.uniform() >= usual * (kindFactor[stay.kind] ?? 1) * season * week) continue;
      lose(stay.lotId, day + random.uniform());
      // Siblings share a fate: one of three times another of the family loses pieces within days.
      if (rough && random.uniform() < 0.33) {
        const sibling = stays.find((one) => one.family === stay.family && one !== stay && here(one, day));
        if (sibling !== undefined) lose(sibling.lotId, day + 3 * random.uniform());
      }
    }
  }
  if (outbreak !== null)
    strike(
      stays.filter((stay) => here(stay, outbreak.day)),
      outbreak,
      random,
      lose,
    );
  return { stays, deaths: deaths.sort((a, b) => a.day - b.day) };
}

function strike(
  stays: readonly { lotId: string; kindId: string }[],
  { day, ofKind, attack }: NonNullable<LossWorld['outbreak']>,
  random: Random,
  lose: (lotId: string, day: number) => void,
): void {
  const counts = Map.groupBy(stays, ({ kindId }) => kindId);
  const [struck = ''] = [...counts].filter(([, all]) => all.length >= 6).map(([id]) => id);
  for (const { lotId, kindId } of stays)
    if ((!ofKind || kindId === struck) && random.uniform() < attack) lose(lotId, day + 10 * random.uniform());
}

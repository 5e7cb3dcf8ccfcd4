import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { hashPassword } from '../../../src/people/passwords.ts';
import { openDatabase } from '../../../src/platform/database.ts';
import { localDay } from '../../../src/platform/days.ts';
import { begin, type Hall, makeHall, planRound, zone } from '../../rounds/hall.ts';
import { type Bench, benchOn } from '../../support/service.ts';

/** A farm on a database of its own, two hands, and rounds as many as are asked for. */
export interface OfflineFarm {
  bench: Bench;
  hall: Hall;
  people: { email: string; password: string }[];
  newRound(): Promise<string>;
  close(): Promise<void>;
}

export async function startFarm(): Promise<OfflineFarm> {
  const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
  const bench = await benchOn(await openDatabase({ EVENWATER_DATA: folder }), {
    watching: false,
    running: true,
  });
  const hall = await makeHall(bench);
  const password = 'wet hands at the rack';
  const passwordHash = await hashPassword(password);
  const people = ['one', 'two'].map((name) => ({ email: `${name}@example.org`, password }));
  await bench.service.db.account.createMany({
    data: people.map(({ email }) => ({ name: email, email, passwordHash, role: 'hand' as const })),
  });
  return {
    bench,
    hall,
    people,
    newRound: async () => {
      const plan = await planRound(bench, hall, { startsAt: '00:00' });
      return begin(bench, hall, plan, localDay(new Date(), zone));
    },
    async close() {
      await bench.close();
      await rm(folder, { recursive: true, force: true });
    },
  };
}

/** What became of what was tapped on one round. */
export interface Tally {
  lost: number;
  doubled: number;
  outOfOrder: number;
}

/** Compares what each tablet tapped, in its order, with what the service keeps of the round. */
export async function compare(
  { bench, hall }: OfflineFarm,
  roundId: string,
  tablets: readonly { id: string; kind: string }[][],
): Promise<Tally> {
  const { db } = bench.service;
  const rows = await db.roundEntry.findMany({ where: { roundId } });
  const byId = new Map(rows.map((row) => [row.id, row]));
  const all = tablets.flat();
  const effects = await db.condition.findMany({
    where: { lotId: { in: Object.values(hall.lots).map(({ id }) => id) } },
    select: { id: true },
  });
  const noted = rows.filter(({ kind }) => kind === 'condition').length;
  const earlier = conditionsBefore.get(bench) ?? 0;
  conditionsBefore.set(bench, effects.length);
  const outOfOrder = tablets.map((list) => {
    const kept = list.flatMap(({ id }) => byId.get(id) ?? []);
    return kept.slice(1).filter((row, i) => {
      const before = kept[i];
      return before !== undefined && (row.at < before.at || row.receivedAt < before.receivedAt);
    }).length;
  });
  return {
    lost: all.filter(({ id, kind }) => byId.get(id)?.kind !== kind).length,
    doubled: rows.length - all.length + Math.abs(effects.length - earlier - noted),
    outOfOrder: outOfOrder.reduce((sum, n) => sum + n, 0),
  };
}

/** How many conditions there were before the present round: each entry makes one. */
const conditionsBefore = new WeakMap<Bench, number>();

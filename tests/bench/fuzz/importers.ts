import { randomUUID } from 'node:crypto';
import { seededRandom } from '../../../src/science/statistics/random.ts';
import { bring } from '../../intake/files.ts';
import type { Hall } from '../../rounds/hall.ts';
import type { Bench, Visitor } from '../../support/service.ts';
import { type FuzzedFile, fuzzedFile } from './files.ts';
import { Pace } from './pace.ts';

/** What came of many files. */
export interface FuzzResult {
  files: number;
  /** Files of which something was kept. */
  taken: number;
  pace: Pace;
  /** Each answer that broke, each file that was kept in part, in words; none where all is well. */
  faults: string[];
}

/** Where the files go, and who brings them. */
interface Ground {
  bench: Bench;
  hall: Hall;
  visitor: Visitor;
}

/** Brings so many files, good and damaged, through every way in, and looks at what is kept of each. */
export async function fuzzImporters(ground: Ground, count: number, seed: number): Promise<FuzzResult> {
  const random = seededRandom(seed);
  const names = await namesOf(ground);
  const result: FuzzResult = { files: count, taken: 0, pace: new Pace(ground.visitor), faults: [] };
  for (let i = 0; i < count; i++) {
    const file = await fuzzedFile(random, names);
    const { taken, faults } = await bringOne(ground, file, result.pace);
    if (taken) result.taken += 1;
    const what = `${file.kind}${file.isDamaged ? ', damaged' : ''} (seed ${seed}, file ${i})`;
    result.faults.push(...faults.map((fault) => `${what}: ${fault}`));
    if (!file.isDamaged && !taken) result.faults.push(`${what}: a good file is not taken`);
  }
  return result;
}

/** A probe that is placed in the hall, so that packs are taken. */
async function namesOf({ bench, hall }: Ground): Promise<{ system: string; probe: string }> {
  const { db } = bench.service;
  const system = await db.system.findUniqueOrThrow({ where: { id: hall.systemId } });
  const probe = `probe-${randomUUID().slice(0, 8)}`;
  const method = await db.method.create({
    data: { quantityCode: 'temperature', name: probe, absolute: 0.1, everyMinutes: 30 },
  });
  const kit = await db.kit.create({
    data: { methodId: method.id, label: probe, openedAt: new Date('2020-01-01') },
  });
  await db.probeName.create({ data: { name: probe, systemId: hall.systemId, kitId: kit.id } });
  return { system: system.name, probe };
}

interface Brought {
  taken: boolean;
  faults: string[];
  pace: Pace;
}

/** Asks, and notes what broke and how long it took. */
function asking(brought: Brought) {
  return async <T extends { status: number; body: string }>(
    what: string,
    ask: () => Promise<T>,
  ): Promise<T> => {
    const answer = await brought.pace.of(what, ask);
    if (answer.status >= 500) brought.faults.push(`${what} is answered ${answer.status}`);
    return answer;
  };
}

async function bringOne(ground: Ground, file: FuzzedFile, pace: Pace): Promise<Brought> {
  const brought: Brought = { taken: false, faults: [], pace };
  const ways = { table: bringTable, pack: bringPack, photo: bringPhoto };
  await ways[file.kind](ground, file.content, brought);
  return brought;
}

async function bringTable({ bench, visitor }: Ground, content: Buffer, brought: Brought): Promise<void> {
  const { db } = bench.service;
  const ask = asking(brought);
  const { location } = await ask('bringing a table', () => bring(visitor, 'fuzzed.csv', content));
  const id = location?.split('/').at(-1);
  if (location === undefined || id === undefined) return;
  await ask('the page of a table', () => visitor.get(location));
  await ask('accepting a table', () => visitor.post(`${location}/acceptance`, {}));
  await ask('the page of a table afterwards', () => visitor.get(location));
  const { acceptedAt, taken } = await db.import.findUniqueOrThrow({ where: { id } });
  const kept = await db.reading.count({ where: { importId: id } });
  if (acceptedAt === null && kept > 0) brought.faults.push(`not accepted, and ${kept} readings are kept`);
  if (acceptedAt !== null && kept !== taken) brought.faults.push(`${taken} taken, ${kept} kept`);
  brought.taken = kept > 0;
}

async function bringPack({ bench, visitor, hall }: Ground, content: Buffer, brought: Brought): Promise<void> {
  const { db } = bench.service;
  const count = () => db.reading.count({ where: { systemId: hall.systemId, quantityCode: 'temperature' } });
  const before = await count();
  const sent = await asking(brought)('sending a pack', () =>
    visitor.send('/api/senml', content, { 'content-type': 'application/senml+json' }),
  );
  const said = sent.status === 200 ? (sent.json() as { taken: number }).taken : 0;
  const kept = (await count()) - before;
  if (kept !== said) brought.faults.push(`${said} said to be taken, ${kept} kept`);
  brought.taken = kept > 0;
}

async function bringPhoto(
  { bench, visitor, hall }: Ground,
  content: Buffer,
  brought: Brought,
): Promise<void> {
  const id = randomUUID();
  const ask = asking(brought);
  const sent = await ask('sending a photo', () =>
    visitor.put(`/api/photos/${id}?lotId=${hall.lots.A1.id}`, content, { 'content-type': 'image/jpeg' }),
  );
  brought.taken = (await bench.service.db.photo.count({ where: { id } })) === 1;
  if ((sent.status === 200) !== brought.taken)
    brought.faults.push(`answered ${sent.status}, kept: ${brought.taken}`);
  if (brought.taken) await ask('the picture', () => visitor.get(`/photos/${id}`));
}

import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import { uuidv7 } from 'uuidv7';
import { openDatabase } from '../../../src/platform/database.ts';
import { seededRandom } from '../../../src/science/statistics/random.ts';
import { addLot } from '../../../src/stock/lots/lots.ts';
import { layRack } from '../../farm/ground.ts';
import { makeHall } from '../../rounds/hall.ts';
import { photograph, printCards, usualShot } from '../../support/photographs/render.ts';
import { makeScene } from '../../support/photographs/scene.ts';
import { type Bench, benchOn } from '../../support/service.ts';

/** So many racks of a round come at once. */
const RACKS = 24;
/** How long a page is asked for without photographs, s. */
const IDLE_S = 20;

/** A rack with lots on it, and photographs of it that differ as files. */
async function photographedRack(bench: Bench) {
  const hall = await makeHall(bench);
  const shape = { name: 'Pictured rack', rows: 6, columns: 10 };
  const { rackId, slots } = await layRack(bench, { tankId: hall.tankId, lampId: null }, shape);
  const random = seededRandom(6001);
  const scene = makeScene(random, { rackId, rows: 6, columns: 10 });
  const { kindId } = await bench.service.db.lot.findUniqueOrThrow({ where: { id: hall.lots.A1.id } });
  const arrivedAt = new Date(Date.now() - 86_400_000);
  for (const coral of scene.corals) {
    const slotIds = coral.slots.map(({ row, column }) => String(slots[`${'ABCDEF'[row]}${column + 1}`]));
    const about = { siteId: hall.siteId, kindId, pieces: 1, arrivedAt, origin: 'Grown here', slotIds };
    const more = { permit: '', sizeMm: null, isMother: false, note: '', identification: null };
    await bench.change((work) => addLot(work, { ...about, ...more }));
  }
  const shot = usualShot(random, { width: 2000, height: 1500 });
  const { jpeg } = await photograph(scene, await printCards(rackId), shot);
  const larger = sharp(jpeg).resize(3600);
  const files = await Promise.all(
    Array.from({ length: RACKS }, (_, i) =>
      larger
        .clone()
        .jpeg({ quality: 70 + i })
        .toBuffer(),
    ),
  );
  return { rackId, files };
}

/** How long a page takes to be answered while something goes on, ms. */
async function askMeanwhile(ask: () => Promise<unknown>, isOver: () => boolean): Promise<number[]> {
  const times: number[] = [];
  while (!isOver()) {
    const from = performance.now();
    await ask();
    times.push(performance.now() - from);
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
  return times.sort((a, b) => a - b);
}

/** Sends the photographs of a round at once, as a tablet does, and compares how soon a page is answered with an idle service. */
export async function together(say: (line: string) => void): Promise<void> {
  const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
  const bench = await benchOn(await openDatabase({ EVENWATER_DATA: folder }), {
    watching: false,
    running: true,
  });
  const { rackId, files } = await photographedRack(bench);
  const hand = await bench.as('hand');
  const ask = () => hand.get('/stock');
  for (let i = 0; i < 40; i++) await ask();
  const until = performance.now() + IDLE_S * 1000;
  const idle = await askMeanwhile(ask, () => performance.now() > until);
  const send = async (file: Buffer) => {
    const id = uuidv7();
    const about = new URLSearchParams({ rackId, takenAt: new Date().toISOString() });
    for (;;) {
      const answer = await hand.put(`/api/rack-photographs/${id}?${about}`, file, {
        'content-type': 'image/jpeg',
      });
      if (answer.status !== 200) throw new Error(answer.body);
      if ((answer.json() as { outcome: string }).outcome !== 'being read') return;
    }
  };
  let isOver = false;
  const began = performance.now();
  const sent = Promise.all(files.map(send)).finally(() => {
    isOver = true;
  });
  const busy = await askMeanwhile(ask, () => isOver);
  await sent;
  const at = (times: readonly number[], share: number) =>
    times[Math.min(times.length - 1, Math.floor(share * times.length))] ?? Number.NaN;
  const words = (times: readonly number[]) =>
    `median ${at(times, 0.5).toFixed(1)} ms, 99th percentile ${at(times, 0.99).toFixed(1)} ms (${times.length} asked)`;
  say(
    `${RACKS} racks at once, read in ${((performance.now() - began) / 1000).toFixed(0)} s; the list of stock, idle: ${words(idle)}; meanwhile: ${words(busy)}; p99 ${(at(busy, 0.99) / at(idle, 0.99)).toFixed(2)} times`,
  );
  await bench.close();
  await rm(folder, { recursive: true, force: true });
}

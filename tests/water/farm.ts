import type { ReadingEntry } from '../../src/water/entry/entry.rules.ts';
import { enterReadings } from '../../src/water/readings/readings.ts';
import type { Bench } from '../support/service.ts';
import { newSite } from '../support/site.ts';

/** The site of an invented farm, in a zone with clock changes. */
export async function makeSite(bench: Bench): Promise<string> {
  return (await newSite(bench.service.db)).id;
}

/** A system of 1,000 L that keeps alkalinity of 2.7 to 3.2 meq/L (7.6 to 9.0 dKH) and nitrate of 2 to 15 mg/L. */
export async function makeSystem(bench: Bench, name = 'Long run'): Promise<string> {
  const { db } = bench.service;
  const siteId = (await db.site.findFirst())?.id ?? (await makeSite(bench));
  const targets = [
    { quantityCode: 'alkalinity', bandLow: 2.7, bandHigh: 3.2 },
    { quantityCode: 'nitrate', bandLow: 2, bandHigh: 15, limitHigh: 30, makeUp: 0 },
  ];
  const system = await db.system.create({
    data: { siteId, name, volumeL: 1000, targets: { create: targets } },
  });
  return system.id;
}

/** Enters one reading, sure of itself. */
export async function read(
  bench: Bench,
  systemId: string,
  at: string,
  quantityCode: string,
  text: string,
  more: Partial<ReadingEntry> = {},
) {
  const entry = { quantityCode, text, sure: true, ...more };
  const { readings } = await bench.change((work) =>
    enterReadings(work, { systemId, at: new Date(at), readings: [entry] }),
  );
  const [first] = readings;
  if (first === undefined) throw new Error('nothing was kept');
  return first;
}

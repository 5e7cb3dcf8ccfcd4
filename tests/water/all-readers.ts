import { loadProbes } from '../../src/watch/facts/probes.ts';
import { listKits } from '../../src/water/kits/kits.ts';
import { wallTraces } from '../../src/water/overview/wall.ts';
import { readingsCsv } from '../../src/water/readings/export.csv.ts';
import { readingSeries, readingSlice } from '../../src/water/readings/series.ts';
import { sourceParts } from '../../src/water/readings/sources.ts';
import { loadReadings } from '../../src/water/record/record.ts';
import { loadTemperatures } from '../../src/water/record/temperatures.ts';
import { readForecastHistories } from '../../src/water/system-page/forecast.ts';
import { probeTraces } from '../../src/water/trust/probe-traces.ts';
import type { Bench } from '../support/service.ts';

// Whoever reads values of probes, so that what is read can be compared where they are kept in another way or elsewhere.

const dayMs = 86_400_000;

/** A system in Lisbon whose probes sent temperatures from `first` on, in ms. */
interface Filled {
  systemId: string;
  first: number;
  now: Date;
}

const question = { code: 'temperature', timeZone: 'Europe/Lisbon', wrong: new Map<string, number>() };

export async function chartOf({ service }: Bench, systemId: string, [from, to]: readonly [number, number]) {
  const time = { from: new Date(from), to: new Date(to) };
  return sourceParts(service.pool, { ...question, systemId, ...time });
}

export async function all<T>(pieces: AsyncGenerator<T>): Promise<T[]> {
  const list: T[] = [];
  for await (const piece of pieces) list.push(piece);
  return list;
}

/** The same readings page by page, as programs ask for them. */
async function pages({ service }: Bench, { systemId, first }: Filled, limit: number) {
  const ids: string[] = [];
  for (let after: Parameters<typeof readingSlice>[1]['after'] = null; ; ) {
    const page = await readingSlice(service.pool, {
      ...{ series: [{ systemId, quantityCode: 'temperature' }], from: new Date(first + 3.7 * dayMs) },
      ...{ to: new Date(first + 12.2 * dayMs), after, limit },
    });
    ids.push(...page.map(({ id }) => id));
    const last = page.at(-1);
    if (last === undefined || page.length < limit) return ids;
    after = { systemId, quantityCode: 'temperature', at: last.at.toISOString(), id: last.id };
  }
}

/** All that anybody reads of them. */
export async function allThatIsRead(bench: Bench, filled: Filled) {
  const { systemId, first, now } = filled;
  const { pool, db } = bench.service;
  const span = { from: now, now };
  const time = { from: new Date(0), to: now };
  const past = new Date(first + 14.4 * dayMs);
  const systems = [{ id: systemId, name: 'Long run' }];
  const temperatures = (await loadTemperatures(pool, [systemId], span)).get(systemId) ?? [];
  const owner = await bench.as('owner', 'Rona');
  return {
    series: (await all(readingSeries(pool, { systemId, quantityCode: 'temperature', ...time }))).flat(),
    pages: [await pages(bench, filled, 61), await pages(bench, filled, 500)],
    csv: (await all(readingsCsv({ db, pool }, { systems, ...question, ...time }))).join(''),
    charts: await Promise.all(
      [
        [first, now.getTime()],
        [first + 2.3 * dayMs, first + 7.9 * dayMs],
        [first + 5.1 * dayMs, first + 5.6 * dayMs],
      ].map(([from = 0, to = 0]) => chartOf(bench, systemId, [from, to])),
    ),
    facts: await loadReadings(pool, [systemId], span),
    temperatures: temperatures.map(({ mean, sources, ...day }) => ({
      ...day,
      mean: mean.toFixed(9),
      n: sources?.length,
    })),
    forecast: await readForecastHistories(pool, { systemIds: [systemId], code: 'temperature', now }),
    traces: await probeTraces(pool, [systemId], null, past),
    probes: await loadProbes(pool, [systemId], { from: past, now }),
    wall: await wallTraces(pool, [systemId], ['temperature'], { from: new Date(first), to: now }),
    kits: (await listKits(pool)).map(({ label, readings }) => [label, readings]),
    page: (
      await owner.get(`/water/systems/${systemId}?quantity=temperature&from=2026-10-24&to=2026-10-25`)
    ).body.match(/<tbody[\s\S]*<\/tbody>/)?.[0],
    json: (await owner.get(`/api/readings?systemId=${systemId}&from=2026-10-20&to=2026-11-20`)).body,
  };
}

import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { SqlReader } from '../../src/platform/database/sql-reader.ts';
import { connect } from '../../src/platform/database.ts';
import { dayOf, daysAfter, daysBefore } from '../../src/science/numeric/time.ts';
import { lossHistories } from '../../src/stock/losses/history.ts';
import { gatheredHistories } from '../../src/stock/losses/kept-history.ts';
import { sayCause } from '../../src/stock/losses/losses.ts';
import { judgeLosses, judgeStays } from '../../src/stock/losses/usual.rules.ts';
import { countLot } from '../../src/stock/lots/ledger.ts';
import { moveLot } from '../../src/stock/places/placements.ts';
import { type Ground, layGround, lot, place } from '../farm/ground.ts';
import { type Bench, benchNow, benchOn, startBench } from '../support/service.ts';

// Written by another instance, on connections of its own; asked for of the first one, which is told of it by marks alone.

let bench: Bench;
let elsewhere: Bench;
let ground: Ground;
let beside: Ground;
let lotId: string;
let goneId: string;
beforeAll(async () => {
  bench = await startBench({ watching: false, working: false });
  elsewhere = await benchOn(connect(bench.service.pool.options.connectionString ?? '', 3), {
    ...{ care: false, watching: false, working: false },
  });
  ground = await layGround(bench);
  beside = await layGround(bench);
  lotId = await lot(bench, ground.siteId);
  goneId = await lot(bench, ground.siteId);
  await place(bench, lotId, [ground.slots.A2], '2026-02-01T00:00:00Z');
  await place(bench, goneId, [ground.slots.A1], '2026-02-01T00:00:00Z');
  const received = { reason: 'received', pieces: 9, note: '', at: new Date('2026-02-01T00:00:00Z') } as const;
  for (const id of [lotId, goneId]) await bench.change((work) => countLot(work, { lotId: id, ...received }));
});
afterAll(async () => {
  await elsewhere.close();
  await bench.close();
});

const sql = (text: string, ...values: unknown[]) => elsewhere.service.pool.query(text, values);
const systems = () => [ground.systemId, beside.systemId];

/** What is judged at a time, by what is kept and by what is read anew. */
async function judged(now = elsewhere.service.now()) {
  const { pool } = bench.service;
  const asked = { since: daysBefore(now, 392), now };
  const kept = await gatheredHistories(pool, systems(), asked);
  const anew = await lossHistories(pool, systems(), asked);
  const today = dayOf(now);
  return {
    kept: systems().map((id) => {
      const { kinds, deaths } = kept.get(id) ?? { kinds: [], deaths: [] };
      return [deaths, judgeStays(kinds, deaths, today)];
    }),
    anew: systems().map((id) => {
      const history = anew.get(id) ?? { stays: [], deaths: [] };
      return [history.deaths, judgeLosses(history, today)];
    }),
  };
}

const lose = (id: string, at: Date) =>
  elsewhere.change((work) =>
    countLot(work, { lotId: id, reason: 'lost', pieces: 1, note: '', at, cause: 'flesh_gone' }),
  );
const moves = (slotIds: (string | undefined)[], id = lotId) =>
  elsewhere.change((work) =>
    moveLot(work, {
      ...{ lotId: id, slotIds: slotIds.map(String), at: elsewhere.service.now(), reason: 'to see it' },
    }),
  );
const lossOf = async (id: string) =>
  (await elsewhere.service.db.ledgerEntry.findFirstOrThrow({ where: { lotId: id, reason: 'lost' } })).id;

/** What is written, of which tables. */
const writes: [tables: string[], what: string, write: () => Promise<unknown>][] = [
  [['ledger_entry'], 'a loss of today', () => lose(lotId, elsewhere.service.now())],
  [['ledger_entry'], 'a loss of an earlier day', () => lose(goneId, daysBefore(benchNow, 30))],
  [
    ['ledger_entry'],
    'its cause, which is none of the farm’s',
    async () => {
      const id = await lossOf(goneId);
      await elsewhere.change((work) => sayCause(work, id, 'broken'));
    },
  ],
  [
    ['ledger_entry'],
    'and another',
    async () => {
      const id = await lossOf(goneId);
      await elsewhere.change((work) => sayCause(work, id, 'silt'));
    },
  ],
  [['placement', 'placement_slot'], 'a lot moved to another system', () => moves([beside.slots.B1])],
  [
    ['ledger_entry', 'condition'],
    'a loss that a look tells of, taken back',
    async () => {
      const id = await lossOf(lotId);
      await sql(
        `INSERT INTO condition (id, lot_id, at, state, note, voided_at, void_reason)
         SELECT gen_random_uuid(), lot_id, at, 'lost', '', $2, 'Mistaken' FROM ledger_entry WHERE id = $1`,
        ...[id, benchNow],
      );
    },
  ],
  [
    ['kind'],
    'a kind renamed',
    () => sql(`UPDATE kind SET name = name || ' of old' WHERE id IN (SELECT kind_id FROM lot)`),
  ],
  [
    ['lot'],
    'a lot of another kind',
    () =>
      sql(
        `UPDATE lot SET kind_id = (SELECT id FROM kind WHERE rank = 'taxon' AND id <> kind_id LIMIT 1) WHERE id = $1`,
        goneId,
      ),
  ],
  [
    ['tank'],
    'a tank of another system',
    () =>
      sql(
        'UPDATE tank SET system_id = $2, name = gen_random_uuid() WHERE id = $1',
        ground.tankId,
        beside.systemId,
      ),
  ],
  [
    ['tank'],
    'and back',
    () => sql('UPDATE tank SET system_id = $2 WHERE id = $1', ground.tankId, ground.systemId),
  ],
  [
    ['rack'],
    'a rack in another tank',
    () =>
      sql(
        'UPDATE rack SET tank_id = $2, name = name || $3 WHERE id = $1',
        ground.rackId,
        beside.tankId,
        ' moved',
      ),
  ],
];

describe('stays and losses, kept', () => {
  test.each(writes)(
    'are never older than what is in the database (%j: %s)',
    async (_tables, _what, write) => {
      elsewhere.at(daysAfter(elsewhere.service.now(), 1));
      const before = await judged();
      expect(before.kept).toEqual(before.anew);
      await write();
      const after = await judged();
      expect(after.kept).toEqual(after.anew);
    },
  );

  test('were tried with every table that they rest on', async () => {
    const { pool } = bench.service;
    const tables = new Set<string>();
    const noting = {
      query: async (text: string, values: unknown[]) => {
        const { rows } = await pool.query(`EXPLAIN (FORMAT JSON) ${text}`, values);
        for (const [, name = ''] of JSON.stringify(rows).matchAll(/"Relation Name":"(\w+)"/g))
          tables.add(name);
        return pool.query(text, values);
      },
    } as unknown as SqlReader;
    await lossHistories(noting, systems(), { since: daysBefore(benchNow, 392), now: benchNow });
    // A slot stays on its rack for good, so that nothing can be written of that.
    expect([...tables].sort()).toEqual([...new Set([...writes.flatMap(([of]) => of), 'slot'])].sort());
  });

  test('are judged as of the time that is asked for, a year later and a year before', async () => {
    for (const days of [1, 6, 8, 300, 385, 391, 400, -20, -200]) {
      const { kept, anew } = await judged(daysAfter(benchNow, days));
      expect(kept, `${days} days after`).toEqual(anew);
    }
  });
});

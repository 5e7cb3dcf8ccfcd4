import pg from 'pg';
import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { change, type Work } from '../../src/platform/change.ts';
import { Refusal } from '../../src/platform/refusal.ts';
import { type Bench, startBench } from '../support/service.ts';

let bench: Bench;
beforeAll(async () => {
  bench = await startBench({ care: false });
});
afterAll(() => bench.close());

const addSite = (name: string) => async (work: Work) => {
  const site = await work.tx.site.create({ data: { name, timeZone: 'UTC' } });
  work.record('site.created', { type: 'site', id: site.id }, { name });
  return { id: site.id };
};

describe('a change', () => {
  test('stands in the journal with who and when', async () => {
    const { id } = await bench.change(addSite('North'));
    const lines = await bench.service.db.journalLine.findMany({ where: { subjectId: id } });
    expect(lines).toMatchObject([
      { kind: 'site.created', at: bench.service.now(), accountId: null, detail: { name: 'North' } },
    ]);
  });

  test('is refused when it leaves no line in the journal, and then nothing of it remains', async () => {
    const silent = (work: Work) => work.tx.site.create({ data: { name: 'Silent', timeZone: 'UTC' } });
    await expect(bench.change(silent)).rejects.toThrow('without a line in the journal');
    expect(await bench.service.db.site.count({ where: { name: 'Silent' } })).toBe(0);
  });

  test('sends one query after the other, also where several are asked for at once', async () => {
    const sent: string[] = [];
    // The driver says so once in a process, and tests/support/database.ts fails on it: here the connection itself is watched.
    const underWay = new Map<pg.Client, number>();
    const query = pg.Client.prototype.query as (...given: unknown[]) => unknown;
    const watch = vi.spyOn(pg.Client.prototype, 'query').mockImplementation(function (
      this: pg.Client,
      ...given: unknown[]
    ) {
      const before = underWay.get(this) ?? 0;
      const answer = query.apply(this, given);
      // A pool's own queries are answered otherwise.
      if (!(answer instanceof Promise)) return answer;
      if (before > 0) sent.push(JSON.stringify(given[0]));
      underWay.set(this, before + 1);
      void answer.catch(() => undefined).then(() => underWay.set(this, (underWay.get(this) ?? 1) - 1));
      return answer;
    } as never);
    try {
      await bench.change(async (work) => {
        const { id } = await addSite('At once')(work);
        const include = { systems: { include: { tanks: true } }, rooms: true, contacts: true } as const;
        await Promise.all([
          work.tx.site.findUniqueOrThrow({ where: { id }, include }),
          work.tx.site.count(),
          work.tx.$queryRaw`SELECT 1`,
        ]);
      });
    } finally {
      watch.mockRestore();
    }
    expect(sent).toEqual([]);
  });

  test('made twice at once under one key is one change with one answer', async () => {
    const origin = { accountId: null, key: uuidv7(), fingerprint: 'a' };
    const [first, second] = await Promise.all(
      [1, 2].map(() => change(bench.service, origin, addSite('Twice'))),
    );
    expect(second).toEqual(first);
    expect(await bench.service.db.site.count({ where: { name: 'Twice' } })).toBe(1);
  });

  test('under a key that stood for something else is refused', async () => {
    const key = uuidv7();
    await change(bench.service, { accountId: null, key, fingerprint: 'a' }, addSite('One'));
    const other = change(bench.service, { accountId: null, key, fingerprint: 'b' }, addSite('Other'));
    await expect(other).rejects.toThrow(Refusal);
  });

  test('is given up after twenty seconds, one of a whole file after ten minutes', async () => {
    const limits: unknown[] = [];
    const db = new Proxy(bench.service.db, {
      get(target, name) {
        if (name !== '$transaction') return Reflect.get(target, name) as unknown;
        return (act: never, options: { timeout: number }) => {
          limits.push(options.timeout);
          return target.$transaction(act, options);
        };
      },
    });
    await change({ ...bench.service, db }, { accountId: null }, addSite('Soon'));
    await change({ ...bench.service, db }, { accountId: null, ofAFile: true }, addSite('Slowly'));
    expect(limits).toEqual([20_000, 600_000]);
  });

  test('that fails leaves its key free for the next try', async () => {
    const origin = { accountId: null, key: uuidv7(), fingerprint: 'a' };
    const fails = async () => Promise.reject(new Refusal('Not yet.'));
    await expect(change(bench.service, origin, fails)).rejects.toThrow('Not yet.');
    await expect(change(bench.service, origin, addSite('Later'))).resolves.toHaveProperty('id');
  });
});

describe('the journal', () => {
  test('can be added to and nothing else', async () => {
    await bench.change(addSite('Kept'));
    await expect(bench.service.pool.query("UPDATE journal_line SET kind = 'x'")).rejects.toThrow(
      'append-only',
    );
    await expect(bench.service.pool.query('DELETE FROM journal_line')).rejects.toThrow('append-only');
  });
});

describe('the last owner', () => {
  test('cannot be switched off, by the page or by the database', async () => {
    const owner = await bench.as('owner');
    const answer = await owner.post(`/people/${owner.id}`, {
      name: 'Owner',
      role: 'owner',
      disabled: 'yes',
      password: '',
      version: 1,
    });
    expect(answer.status).toBe(409);
    expect(answer.body).toContain('at least one owner');
  });
});

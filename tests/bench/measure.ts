import type pg from 'pg';

/** The middle of several runs, milliseconds. */
export async function middleOf(runs: number, work: () => Promise<unknown>): Promise<number> {
  const times: number[] = [];
  for (let i = 0; i < runs; i += 1) {
    const start = performance.now();
    await work();
    times.push(performance.now() - start);
  }
  return times.sort((a, b) => a - b)[Math.floor(runs / 2)] ?? Number.NaN;
}

/** How many queries go through the pool while `work` runs with it. */
export async function queriesOf(
  pool: pg.Pool,
  work: (counted: pg.Pool) => Promise<unknown>,
): Promise<number> {
  let queries = 0;
  const counted = new Proxy(pool, {
    get(target, name) {
      const own = Reflect.get(target, name, target) as unknown;
      if (name === 'query') queries += 1;
      return typeof own === 'function' ? own.bind(target) : own;
    },
  });
  await work(counted);
  return queries;
}

import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { routeAccess } from '../../src/route-access.ts';
import { layGround } from '../farm/ground.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

/** The pages on which something new is set up, before there is any of it. */
describe('the form of something new', () => {
  let bench: Bench;
  let owner: Visitor;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    await layGround(bench);
    owner = await bench.as('owner');
  });
  afterAll(() => bench.close());

  const idOf = async (path: string): Promise<string> => {
    const { db } = bench.service;
    const found = path.startsWith('/farm/tanks') ? await db.tank.findFirst() : await db.system.findFirst();
    return found?.id ?? '';
  };

  const paths = Object.keys(routeAccess)
    .filter((route) => route.startsWith('GET /') && route.endsWith('/new'))
    .map((route) => route.slice('GET '.length))
    .filter((path) => !path.includes(':') || /^\/(farm\/(systems|tanks)|water\/systems)\/:id\//.test(path));

  test('is there for more than ten things', () => expect(paths.length).toBeGreaterThan(10));

  test.each(paths)('%s opens, or says what it lacks', async (path) => {
    const { status, body } = await owner.get(path.replace(':id', await idOf(path)));
    expect(status, body).toBeLessThan(500);
  });
});

import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { files, walk } from '../support/crawl.ts';
import { type PostedForm, postedForms } from '../support/form-controls.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { filled, kindOf, troubleLast } from '../support/typing.ts';

let bench: Bench;
let hall: Hall;
let owner: Visitor;

beforeAll(async () => {
  bench = await startBench({ working: false });
  hall = await makeHall(bench);
  owner = await bench.as('owner', 'Ines Varga');
  await bench.service.db.equipment.create({
    data: { systemId: hall.systemId, kind: 'return_pump', name: 'Return' },
  });
});

afterAll(() => bench.close());

/** Lines of the journal: one or more for each change. A backup that was asked for is made some time later. */
const changes = () =>
  bench.service.db.journalLine.count({ where: { accountId: owner.id, kind: { not: 'backup.made' } } });
const tokenIn = (page: string) => /name="_csrf" value="([^"]+)"/.exec(page)?.[1] ?? '';

describe('going back and sending a form again', () => {
  test('makes nothing a second time, whatever form it is', async () => {
    const forms = new Map<string, PostedForm & { page: string }>();
    await walk(
      owner,
      ['/', '/farm', '/stock', '/water', `/stock/${hall.lots.A1.code}`],
      ({ path, body }) => {
        for (const form of postedForms(body))
          if (
            form.action !== '' &&
            !/sign-out|\/trials$|^\/(account|sites|people\/tablets)/.test(form.action) &&
            !forms.has(kindOf(form))
          )
            forms.set(kindOf(form), { ...form, page: path });
      },
      files,
    );
    const twice: string[] = [];
    const once = new Set<string>();
    for (const [kind, found] of troubleLast(forms)) {
      const { body } = await owner.get(found.page);
      const form = postedForms(body).find((one) => kindOf(one) === kind);
      if (form === undefined) continue;
      const sent = { _csrf: tokenIn(body), ...filled(form) };
      const before = await changes();
      const first = await owner.post(form.action, sent);
      const between = await changes();
      if (first.status !== 303 || between === before) continue;
      once.add(kind.split(' ')[0] ?? '');
      await owner.post(form.action, sent);
      if ((await changes()) !== between) twice.push(kind);
    }
    expect(twice).toEqual([]);
    expect([...once]).toEqual(
      expect.arrayContaining([
        '/farm/equipment/:id/running',
        '/farm/equipment/:id/upkeep',
        '/farm/systems/:id/events',
        '/farm/systems/:id/tanks',
        '/farm/tanks/:id/racks',
        '/lots/:id/conditions',
        '/lots/:id/cuts',
        '/lots/:id/holds',
        '/water/kits',
        '/water/systems/:id/doses',
        '/water/systems/:id/feedings',
        '/water/systems/:id/readings',
        '/water/systems/:id/routines',
        '/water/systems/:id/water-changes',
      ]),
    );
  });
});

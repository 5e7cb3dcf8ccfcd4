import { afterAll, beforeEach, describe, expect, test } from 'vitest';
import { makeDigest } from '../../src/digest/digests.ts';
import { addLot } from '../../src/stock/lots/lots.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { layRack } from '../farm/ground.ts';
import { type Walked, walk } from '../support/crawl.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';

// A farm is empty on its first day and has one thing of each kind on the next. Its pages say what to do first, and no
// sentence says what is not known. All pages that a person reaches by links are read.

let bench: Bench;
let owner: Visitor;
let siteId: string;
beforeEach(async () => {
  await bench?.close();
  bench = await startBench({ watching: false });
  owner = await bench.as('owner');
  siteId = (await bench.service.db.site.create({ data: { name: 'Saltgate', timeZone: 'Europe/Lisbon' } })).id;
});
afterAll(() => bench.close());

const navigation = [
  '/',
  '/water',
  '/racks',
  '/stock',
  '/watch',
  '/rounds',
  '/digest',
  '/tags',
  '/emergencies',
];
const more = ['/farm/equipment', '/farm/switched-off', '/farm/contacts', '/watch/limits', '/journal'];

/** What nobody can know of such a farm, and what no reader should see. */
const unsaid =
  /quiet day|all (is )?well\b(?! ?[”’"])|\b0 of 0\b|\bNaN\b|\bundefined\b|\bInfinity\b|>null<|\bnull\b|\b1 (?:days|hours|weeks|lots|pieces|systems|tests|alerts|readings|racks|tanks)\b|>\s*[-–]\s*<\/(?:td|dd|p|span)>/gi;

/** A page as it is read: without scripts, styles, pictures, addresses and fields. */
const read = (body: string) =>
  body
    .replaceAll(/<(script|style|svg|textarea)[\s\S]*?<\/\1>/g, '')
    .replaceAll(/<(?:input|option|meta|link)[^>]*>/g, '')
    .replaceAll(/<([a-z]+)(?: [^>]*)?>/g, '<$1>');

async function wrongOn(): Promise<string[]> {
  const wrong: string[] = [];
  const look = ({ path, status, body }: Walked) => {
    if (status >= 400) wrong.push(`${path}: ${status}`);
    if (body.startsWith('<!doctype'))
      for (const [words] of read(body).matchAll(unsaid)) wrong.push(`${path}: ${words}`);
  };
  const kinds = await walk(owner, [...navigation, ...more], look);
  expect(kinds).toBeGreaterThan(20);
  return [...new Set(wrong)];
}

async function madeUp() {
  await evaluateSystems(bench.service, 'all', benchNow);
  await makeDigest(bench.service, siteId, benchNow);
}

test('an empty farm: every page answers and says what to do first', async () => {
  await makeDigest(bench.service, siteId, benchNow);
  expect(await wrongOn()).toEqual([]);
  for (const path of navigation) {
    const { body } = await owner.get(path);
    const main = body.slice(body.indexOf('<main'), body.lastIndexOf('</main>'));
    expect(main, path).not.toContain('0 systems');
    expect(main, path).toMatch(
      /\b(?:Add|Start|Set up|Lay|Enter|Take in|Plan|Choose|[Ww]hat do you see|No alerts|set up)\b/,
    );
  }
});

describe('a farm with', () => {
  const system = () => bench.service.db.system.create({ data: { siteId, name: 'Only one', volumeL: 900 } });
  const size = { lengthMm: 2000, widthMm: 800, heightMm: 400 };
  const things: Record<string, () => Promise<unknown>> = {
    'one system and nothing else': system,
    'one tank': async () => {
      const { id } = await system();
      await bench.service.db.tank.create({ data: { systemId: id, name: 'Tank 1', ...size } });
    },
    'one rack': async () => {
      const { id } = await system();
      const tank = await bench.service.db.tank.create({ data: { systemId: id, name: 'Tank 1', ...size } });
      await layRack(bench, { tankId: tank.id, lampId: null }, { name: 'Window rack' });
    },
    'one lot that stands nowhere': async () => {
      const { id: kindId } = await bench.service.db.kind.findUniqueOrThrow({
        where: { code: 'goniastrea-retiformis' },
      });
      await bench.change((work) =>
        addLot(work, {
          ...{ siteId, kindId, pieces: 1, arrivedAt: benchNow, origin: 'Grown here', permit: '' },
          ...{ sizeMm: null, note: '', isMother: false, identification: null, slotIds: [] },
        } as Parameters<typeof addLot>[1]),
      );
    },
    'one reading': async () => {
      const { id } = await system();
      const reading = { quantityCode: 'alkalinity', text: '8.2', sure: true };
      const answer = await owner.send('/api/readings', {
        ...{ systemId: id, at: '2026-11-24T07:00', readings: [reading] },
      });
      expect(answer.status, answer.body).toBe(201);
    },
    'one alert': async () => {
      const { id } = await system();
      for (const [minute, text] of [
        ['00', '32.5'],
        ['20', '32.6'],
      ]) {
        const reading = { quantityCode: 'temperature', text, sure: true };
        await owner.send('/api/readings', {
          systemId: id,
          at: `2026-11-24T07:${minute}`,
          readings: [reading],
        });
      }
    },
  };

  test.each(Object.keys(things))(
    '%s: every page answers and says nothing that is not known',
    async (name) => {
      await things[name]?.();
      await madeUp();
      expect(await wrongOn()).toEqual([]);
    },
  );
});

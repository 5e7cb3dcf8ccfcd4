import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { surprises } from '../../src/browser/round/reading-check.ts';
import { begin, makeHall, planRound } from '../rounds/hall.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { read } from '../water/farm.ts';

// Nitrate 6.6 -> 10.4 in two days and alkalinity 8.9 -> 8.1 in four hours stood inside their bands, so that a tablet that
// knew the band alone took them without a word (a trial of the service).

let bench: Bench;
let hand: Visitor;
let roundId: string;
let systemId: string;

/** A quantity, what is kept of it, and what it was every other day. */
const histories: [code: string, low: number, high: number, values: string[]][] = [
  ['nitrate', 2, 15, ['6.4', '6.7', '6.5', '6.6']],
  ['alkalinity', 2.7, 3.2, ['8.8', '8.9', '8.8', '8.9', '8.9']],
  ['phosphate', 0.01, 0.1, ['<0.02', '<0.02', '<0.02']],
  ['magnesium', 1250, 1400, ['1400', '1380', '1360', '1340', '1320', '1300']],
  ['calcium', 400, 460, ['430']],
  ['iodine', 0, 0.1, ['>0.2', '>0.2', '>0.2']],
];

const days = (n: number) => new Date(Date.parse('2026-11-24T08:00:00Z') - n * 86_400_000).toISOString();

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hand = await bench.as('hand');
  const hall = await makeHall(bench);
  systemId = hall.systemId;
  for (const [quantityCode, bandLow, bandHigh, values] of histories) {
    await bench.service.db.systemQuantity.create({ data: { systemId, quantityCode, bandLow, bandHigh } });
    for (const [i, text] of values.entries())
      await read(bench, systemId, days(2 * (values.length - i)), quantityCode, text);
  }
  roundId = await begin(bench, hall, await planRound(bench, hall), '2026-11-24');
});
afterAll(() => bench.close());

async function expectsOf(code: string): Promise<string> {
  const path = `/rounds/${roundId}/systems/${systemId}/tests`;
  const { pages } = (await hand.get(`/api/rounds/${roundId}?draw=${path}`)).json() as {
    pages: Record<string, { html: string }>;
  };
  const html = pages[path]?.html ?? '';
  const row = new RegExp(`data-test="${code}"[\\s\\S]*?data-expects="([^"]*)"`).exec(html)?.[1] ?? '';
  return row.replaceAll('&quot;', '"');
}

describe('a tablet without the network', () => {
  test.each([
    ['nitrate', ['10.4', '7.2', '3.1', '14', '>20', '<0.5']],
    ['alkalinity', ['8.1', '8.7', '9.8', '7.4', '9.2']],
    ['phosphate', ['0.02', '0.2', '<0.02', '<0.1']],
    ['magnesium', ['1280', '1240', '1180', '1400']],
    ['calcium', ['425', '350', '520']],
    ['iodine', ['>0.2', '0.28', '0.04']],
  ])('asks of %s %j for a repeat exactly where the service does', async (code, texts) => {
    const expects = await expectsOf(code);
    const method = await bench.service.db.method.findFirstOrThrow({
      where: { quantityCode: code, isDefault: true },
    });
    const { displayUnit: unit } = await bench.service.db.quantity.findUniqueOrThrow({ where: { code } });
    const at = '2026-11-24T08:00:00Z';
    for (const text of texts) {
      const told = surprises(expects, { code, text, unit, how: method.id, dilution: '', at });
      const kept = await read(bench, systemId, at, code, text);
      await bench.service.db.reading.update({
        where: { id: kept.id },
        data: { voidedAt: new Date(at), voidReason: 'only tried' },
      });
      expect([text, told]).toEqual([text, kept.trust !== 'plain']);
    }
  });
});

describe('a diluted sample', () => {
  test.each([
    ['2', 12, 6],
    ['3', 12, 4],
    ['7.5', 15, 2],
    ['10', 11, 1.1],
  ])('to %s times counts that often on the round, with its error', async (dilution, value, shown) => {
    const entry = {
      id: uuidv7(),
      kind: 'reading',
      at: '2026-11-24T08:00:00Z',
      systemId,
      quantityCode: 'nitrate',
      text: String(shown),
      dilution,
      sure: 'yes',
    };
    const answer = await hand.send(`/api/rounds/${roundId}/entries`, [entry]);
    expect(answer.status, answer.body).toBe(200);
    const kept = await bench.service.db.reading.findFirstOrThrow({
      where: { systemId, factor: Number(dilution) },
      orderBy: { createdAt: 'desc' },
    });
    expect(kept.value).toBeCloseTo(value, 9);
    expect(kept.uncertainty).toBeCloseTo(0.1 * value, 9);
  });

  test('is refused where a dilution says nothing, and asked for in numbers', async () => {
    const send = (fields: object) =>
      hand.post(`/water/systems/${systemId}/readings`, { at: '2026-11-24T08:00', ...fields });
    expect((await send({ ph: '8.2', 'ph-dilution': '2' })).body).toContain('not tested on a diluted sample');
    expect((await send({ nitrate: '3', 'nitrate-dilution': 'half' })).status).toBe(422);
  });
});

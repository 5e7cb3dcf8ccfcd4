import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// Seven phosphates of "0.00" or "<0.01" were told as a level below nothing. Usual photometers see 0.02 mg/L (maker's sheets,
// from memory); that a non-detect is a bound and no number is the rule of water laboratories (reporting of censored data).

let bench: Bench;
let hand: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hand = await bench.as('hand');
});
afterAll(() => bench.close());

async function enter(systemId: string, day: number, quantityCode: string, text: string) {
  const at = `2026-11-${String(day).padStart(2, '0')}T08:00:00Z`;
  bench.at(at);
  const readings = [{ quantityCode, text, sure: true }];
  const answer = await hand.send('/api/readings', { systemId, at: at.slice(0, 16), readings });
  expect(answer.status, answer.body).toBe(201);
}

async function everythingSaid(systemId: string, code: string) {
  const at = '2026-11-22T08:05:00Z';
  bench.at(at);
  await evaluateSystems(bench.service, [systemId], new Date(at));
  const alerts = await openAlerts(bench.service.pool, { systemId });
  const pages = await Promise.all(
    [
      `/water/systems/${systemId}?quantity=${code}&days=30`,
      '/watch',
      `/water/systems/${systemId}/nutrients`,
    ].map(async (url) => (await hand.get(url)).body),
  );
  return { alerts, said: [JSON.stringify(alerts), ...pages].join('\n') };
}

describe('what a test could not see', () => {
  test.each([
    ['phosphate', ['0.00', '0.00', '0.00', '0.00', '0.00', '0.00', '0.00'], 0.01, 0.1],
    ['phosphate', ['<0.01', '<0.01', '<0.01', '<0.01', '<0.01', '<0.01', '<0.01'], 0.01, 0.1],
    ['phosphate', ['0.03', '0.02', '<0.02', '0.00', '<0.02', 'ND', '0.00'], 0.02, 0.1],
    ['nitrate', ['<0.5', 'ND', '0', '<0.5', '0', 'ND', '<0.5'], 0.5, 10],
  ] as const)(
    '%s %j is never less than nothing, and a band under it cannot be known',
    async (code, texts, low, high) => {
      const systemId = await makeSystem(bench, `Bounds ${code} ${texts[0]} ${texts.at(-1)}`);
      const band = { bandLow: low, bandHigh: high };
      await bench.service.db.systemQuantity.upsert({
        where: { systemId_quantityCode: { systemId, quantityCode: code } },
        create: { systemId, quantityCode: code, ...band },
        update: band,
      });
      for (const [i, text] of texts.entries()) await enter(systemId, 4 + 3 * i, code, text);
      const { alerts, said } = await everythingSaid(systemId, code);
      expect(said).not.toMatch(/[−-]\s?0?\.\d+ mg\/L/);
      expect(alerts.filter(({ rule, facet }) => rule === 'out-of-band' && facet === code)).toEqual([]);
      expect(said).toContain('annot be known with this test');
    },
  );
});

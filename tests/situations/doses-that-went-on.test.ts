import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// Alkalinity and calcium sink together while the usual dose goes in every day (made up; that carbonate can drop out so:
// Moras et al. 2022, Biogeosciences 19). The usual dose is no answer to the alert, and 5.6 dKH stays act now.

let bench: Bench;
let manager: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager');
});
afterAll(() => bench.close());

test('a dose as on every day does not make an acute level less urgent', async () => {
  const systemId = await makeSystem(bench, 'Doses go on');
  for (let day = 1; day <= 12; day++) {
    const date = `2026-11-${String(day).padStart(2, '0')}`;
    bench.at(`${date}T08:05:00Z`);
    const off = Math.max(0, day - 6);
    const readings = [
      { quantityCode: 'alkalinity', text: (8.3 - 0.45 * off).toFixed(1), sure: true },
      { quantityCode: 'calcium', text: String(430 - 12 * off), sure: true },
    ];
    const answer = await manager.send('/api/readings', { systemId, at: `${date}T08:00`, readings });
    expect(answer.status, answer.body).toBe(201);
    const data = {
      systemId,
      substance: 'soda solution',
      quantityCode: 'alkalinity',
      amount: 100,
      unit: 'mL',
    };
    await bench.service.db.dose.create({
      data: {
        ...{ ...data, id: randomUUID(), effect: 0.4 / 2.804, accountId: manager.id },
        ...{ at: new Date(`${date}T09:00:00Z`), createdAt: new Date(`${date}T09:00:00Z`) },
      },
    });
    if (day >= 7) await evaluateSystems(bench.service, [systemId], new Date(`${date}T09:05:00Z`));
  }
  const alerts = await openAlerts(bench.service.pool, { systemId });
  const level = alerts.find(({ rule, facet }) => rule === 'out-of-band' && facet === 'alkalinity');
  expect(level?.severity).toBe('now');
  for (const { title, finding } of alerts) {
    expect(title).not.toContain('Acted on');
    expect(finding.firstStep).not.toContain('Do not do the same again before');
  }
});

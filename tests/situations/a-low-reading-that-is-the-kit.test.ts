import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from '../water/farm.ts';

// A08, an article on old test kits; the series is assumed: 8.4, 8.3, 8.4, 8.3 dKH, then a new bottle: 6.6, 6.7, 6.6, while a
// second kit shows 8.3.

let bench: Bench;
let hand: Visitor;
let systemId: string;
const kits: Record<string, { id: string; methodId: string }> = {};

beforeAll(async () => {
  bench = await startBench({ watching: false });
  systemId = await makeSystem(bench);
  hand = await bench.as('hand');
  const { id: methodId } = await bench.service.db.method.findFirstOrThrow({
    where: { quantityCode: 'alkalinity', isDefault: true },
  });
  for (const [label, openedAt] of Object.entries({
    Old: '2026-10-01',
    Fresh: '2026-11-20',
    Spare: '2026-10-02',
  }))
    kits[label] = await bench.service.db.kit.create({
      data: { id: randomUUID(), methodId, label, openedAt: new Date(openedAt) },
    });
});
afterAll(() => bench.close());

const by = (label: string) => ({ kitId: kits[label]?.id ?? null, methodId: kits[label]?.methodId ?? null });
const morning = (day: number, hour = 8) => `2026-11-${String(day).padStart(2, '0')}T0${hour}:00Z`;

describe('a low reading that is the kit, not the water', () => {
  test('is unconfirmed, asks for a repeat with another kit or method, and is refuted by a second kit', async () => {
    for (const [i, value] of ['8.4', '8.3', '8.4', '8.3', '8.4', '8.3', '8.4', '8.3', '8.4', '8.3'].entries())
      await read(bench, systemId, morning(10 + i), 'alkalinity', value, by('Old'));
    const low = await read(bench, systemId, morning(20), 'alkalinity', '6.6', by('Fresh'));
    expect(low).toMatchObject({ trust: 'unconfirmed' });
    expect(low.advice).toContain(
      'Another kit or method would also show whether the kit is right. Until then no correction starts from it.',
    );
    await read(bench, systemId, morning(20, 9), 'alkalinity', '8.3', by('Spare'));
    const kept = await bench.service.db.reading.findUniqueOrThrow({ where: { id: low.id } });
    expect(kept).toMatchObject({ trust: 'refuted', voidedAt: null });
  });

  test('once the kit is known, its readings are shown corrected and as read, on the page, in the file and to programs', async () => {
    for (const [day, value] of [
      ['21', '6.6'],
      ['22', '6.7'],
      ['23', '6.6'],
    ] as const)
      await read(bench, systemId, morning(Number(day)), 'alkalinity', value, by('Fresh'));
    const kit = kits.Fresh?.id ?? '';
    for (const value of ['6.6', '6.7', '6.6', '6.7']) {
      const check = { standard: '8.4', value, unit: 'dKH', at: '2026-11-23T10:00', note: '' };
      expect((await hand.post(`/water/kits/${kit}/checks`, check)).status).toBe(303);
    }
    const page = await hand.get(`/water/kits/${kit}`);
    expect(page.body).toMatch(/It reads 2[01] % low/);
    expect(page.body).toContain('Repeat the check with a fresh portion of the standard');
    const chart = await hand.get(`/water/systems/${systemId}?quantity=alkalinity&days=30`);
    expect(chart.body).toContain('<span class="small">read 6.6</span>');
    expect(chart.body).toContain('class="as-read"');
    expect(chart.body).toMatch(
      /Fresh reads 2[01] % low \(\d+ to [\d.]+ %\); its readings are shown corrected/,
    );
    const answer = await hand.get(`/api/readings?systemId=${systemId}&quantityCode=alkalinity`);
    const { readings } = answer.json() as {
      readings: { enteredText: string; corrected: { value: number } | null }[];
    };
    const last = readings.at(-1);
    expect(last?.enteredText).toBe('6.6');
    expect((last?.corrected?.value ?? 0) * 2.804).toBeCloseTo(8.3, 0);
    expect(readings.find((one) => one.enteredText === '8.3')?.corrected).toBeNull();
    const file = await hand.get(`/water/systems/${systemId}/readings.csv?quantity=alkalinity&days=30`);
    expect(file.body.split('\r\n')[0]).toContain('corrected_value,corrected_uncertainty,kit_bias');
    expect(file.body.split('\r\n').at(-2)).toMatch(/,8\.\d+,[\d.]+,-0\.2/);
  });
});

import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { FactsCache } from '../../src/watch/facts/facts.ts';
import { bottleQuestion } from '../../src/watch/rules/levels/bottle-question.ts';
import { openKit } from '../../src/water/kits/kits.ts';
import { type Bench, startBench } from '../support/service.ts';
import { makeSystem, read } from '../water/farm.ts';
import { blankKit, blankSystem, dayZero, reading } from './facts.ts';

// Which bottle moved a level is common practice of the trade to ask; no source.

const old = blankKit({ label: 'Alkalinity 7', openedDay: dayZero - 90 });
const opened = (label: string, day: number, quantityCode = 'alkalinity') => ({
  ...{ id: label, label, quantityCode, openedDay: dayZero + day },
});
const asked = (more: Parameters<typeof blankSystem>[0]) =>
  bottleQuestion(
    blankSystem({
      kits: [old],
      readings: new Map([['alkalinity', [reading(30, 2.6, 0.07, { kitId: old.id })]]]),
      ...more,
    }),
    'alkalinity',
  );

describe('whether a new bottle moved a level', () => {
  test('is asked of a bottle that nobody entered', () => {
    expect(asked({ openedKits: [opened('Alkalinity 7', -90)] })).toMatch(/^Was a new bottle/);
    expect(asked({ openedKits: [opened('Calcium 3', 28, 'calcium')] })).toMatch(/^Was a new bottle/);
  });

  test('names the bottle that was entered, though the last test is noted with the one before', () => {
    const question = asked({ openedKits: [opened('Alkalinity 8', 25), opened('Alkalinity 7', -90)] });
    expect(question).toMatch(
      /^Alkalinity 8 was opened on .*, and the last test is noted with Alkalinity 7: was it made with the new one\?/,
    );
    expect(question).not.toContain('nobody entered');
  });

  test('names one that was opened after the last test', () => {
    expect(asked({ openedKits: [opened('Alkalinity 8', 31)] })).toMatch(
      /^Alkalinity 8 was opened on .*, after the last test\. Test one sample with it and with the bottle before/,
    );
  });

  test('names one where tests name no bottle', () => {
    const readings = new Map([['alkalinity', [reading(30, 2.6, 0.07)]]]);
    expect(asked({ readings, kits: [], openedKits: [opened('Alkalinity 8', 28)] })).toContain(
      'the last test is noted without a bottle',
    );
  });
});

describe('a bottle that was entered and not used yet', () => {
  let bench: Bench;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
  });
  afterAll(() => bench.close());

  test('is known to the watch at its next look', async () => {
    const systemId = await makeSystem(bench);
    const now = new Date('2026-11-24T08:00:00Z');
    await read(bench, systemId, '2026-11-23T08:00:00Z', 'alkalinity', '7.0');
    const cache = new FactsCache(bench.service.pool);
    const question = async () => {
      for await (const [facts] of cache.facts([systemId], now))
        if (facts !== undefined) return bottleQuestion(facts, 'alkalinity');
      return '';
    };
    expect(await question()).toMatch(/^Was a new bottle/);
    const method = await bench.service.db.method.findFirstOrThrow({
      where: { quantityCode: 'alkalinity', everyMinutes: null, laboratory: '' },
    });
    const kit = { methodId: method.id, label: 'Alkalinity 8', lotNumber: '', expiresOn: null, uses: null };
    await bench.change((work) => openKit(work, { ...kit, openedAt: new Date('2026-11-22T08:00:00Z') }));
    expect(await question()).toMatch(/^Alkalinity 8 was opened on 22 Nov 2026/);
  });
});

import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { loadFarmContext } from '../../src/intake/file/farm-context.ts';
import { saveUpload } from '../../src/intake/imports/imports.ts';
import { previewFile } from '../../src/intake/imports/preview.ts';
import { acceptImport, withdrawImport } from '../../src/intake/imports/reading-imports.ts';
import { readingsCsv } from '../../src/water/readings/export.csv.ts';
import { type Bench, startBench } from '../support/service.ts';
import { makeSystem, read } from '../water/farm.ts';
import { farm, read as readText } from './files.ts';

let bench: Bench;
let systemId: string;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  systemId = await makeSystem(bench);
});
afterAll(() => bench.close());

const span = { from: new Date('2026-01-01'), to: new Date('2026-12-01'), timeZone: 'Europe/Lisbon' };
async function exported(): Promise<string> {
  const system = { id: systemId, name: 'Long run' };
  let text = '';
  for await (const piece of readingsCsv(bench.service, { systems: [system], code: '', ...span }))
    text += piece;
  return text;
}

async function previewOf(text: string) {
  const { db, pool } = bench.service;
  const site = await db.site.findFirstOrThrow();
  const known = await loadFarmContext(db, site, bench.service.now());
  return previewFile(pool, known, new TextEncoder().encode(text), {});
}

describe('readings written to a file', () => {
  test('come back as they were: value, unit, limit, time, method, comment', async () => {
    await read(bench, systemId, '2026-10-20T07:30:12.345Z', 'alkalinity', '8,4');
    await read(bench, systemId, '2026-10-21T07:30:00Z', 'alkalinity', '2.97', {
      unit: 'meq/L',
      note: 'new "bottle", shaken',
    });
    await read(bench, systemId, '2026-10-21T07:31:00Z', 'nitrate', '<0.5');
    await read(bench, systemId, '2026-10-25T00:30:00Z', 'salinity', '35.2');
    const text = await exported();
    expect((await previewOf(text)).lines.map((line) => [line.state, line.reason])).toEqual(
      Array(4).fill(['present', 'is there already']),
    );
    const before = await bench.service.db.reading.findMany({ orderBy: { at: 'asc' } });
    await bench.service.db.reading.updateMany({
      data: { voidedAt: new Date(), voidReason: 'to bring it back' },
    });
    const site = await bench.service.db.site.findFirstOrThrow();
    const { id } = await bench.change((work) =>
      saveUpload(work, site.id, { fileName: 'all.csv', content: new TextEncoder().encode(text) }),
    );
    const preview = await previewOf(text);
    expect(preview.questions).toEqual([]);
    await bench.change((work) => acceptImport(work, id, preview, {}));
    const after = await bench.service.db.reading.findMany({
      where: { importId: id },
      orderBy: { at: 'asc' },
    });
    const facts = ({ quantityCode, value, belowDetection, methodId, note, at }: (typeof after)[number]) => ({
      quantityCode,
      value: value.toPrecision(5),
      belowDetection,
      methodId,
      note,
      at: Math.floor(at.getTime() / 1000),
    });
    expect(after.map(facts)).toEqual(before.map(facts));
  });

  test('that were voided stay out', async () => {
    const { id } = await bench.service.db.import.findFirstOrThrow();
    await bench.change((work) => withdrawImport(work, id, 'once more'));
    const all = await exported();
    const { lines } = await previewOf(all);
    expect(new Set(lines.map((line) => `${line.state} ${line.reason}`))).toEqual(
      new Set(['nothing marked as not counting']),
    );
  });
});

describe('any table of values', () => {
  const value = fc.integer({ min: 55, max: 125 }).map((tenths) => tenths / 10);
  const moment = fc.date({ min: new Date('2020-01-01'), max: new Date('2026-11-20'), noInvalidDate: true });
  const note = fc.string({ maxLength: 12 }).map((text) => text.replace(/[\0]/g, '').trim());
  const rows = fc.array(fc.record({ value, moment, note }), { minLength: 2, maxLength: 15 });
  const quoted = (text: string) => `"${text.replaceAll('"', '""')}"`;

  test.each([
    [',', '.', '\r\n'],
    [';', ',', '\r'],
    ['\t', ',', '\n'],
  ])(
    'parted by %j, with the decimal %j and the line end %j, is read value for value',
    async (separator, decimal, end) => {
      await fc.assert(
        fc.asyncProperty(rows, async (all) => {
          const lines = all.map((row) =>
            [
              row.moment.toISOString().slice(0, 19).concat('Z'),
              'Long run',
              String(row.value).replace('.', decimal),
              quoted(row.note),
            ].join(separator),
          );
          const text = [['when', 'system', 'Alkalinity (dKH)', 'note'].join(separator), ...lines].join(end);
          const preview = await readText(text, {}, farm());
          expect(preview.lines.map((line) => line.parsed?.reading.entered)).toEqual(
            all.map((row) => row.value),
          );
          expect(preview.lines.map((line) => line.parsed?.at.getTime())).toEqual(
            all.map((row) => Math.floor(row.moment.getTime() / 1000) * 1000),
          );
        }),
        { numRuns: 40 },
      );
    },
  );

  test('whatever stands in it, every row that is not blank is answered for, and none is a fault of the program', async () => {
    const cells = fc.array(fc.array(fc.string({ maxLength: 8 }), { minLength: 1, maxLength: 5 }), {
      maxLength: 12,
    });
    await fc.assert(
      fc.asyncProperty(cells, async (all) => {
        const body = all.map((row) => row.map(quoted).join(',')).join('\n');
        const preview = await readText(`when,system,Alkalinity (dKH),NO3 (mg/L),note\n${body}`);
        const filled = preview.rows.flatMap((row, i) =>
          i >= preview.format.layout.headRow && row.some((cell) => cell !== '') ? [i + 1] : [],
        );
        if (preview.fault === null)
          expect([...new Set(preview.lines.map((line) => line.row))]).toEqual(filled);
        for (const line of preview.lines) {
          expect(line.state === 'taken').toBe(line.parsed !== null);
          expect(line.reason === '').toBe(line.state === 'taken');
        }
      }),
      { numRuns: 60 },
    );
  });
});

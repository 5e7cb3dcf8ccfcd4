import { afterAll, beforeAll, expect, test } from 'vitest';
import { photographRacks } from '../../seed/demo/rack-photographs/take.ts';
import { type DemoBench, startDemoBench } from '../support/demo-bench.ts';

let bench: DemoBench;
beforeAll(async () => {
  bench = await startDemoBench({ watching: false });
  await photographRacks(bench.service, 20_261, { N3: [30, 1] });
}, 900_000);
afterAll(async () => bench?.close());

test('a rack of the demo farm is drawn and read like any photograph: its lots have faces, and those noted as paling are whiter', async () => {
  const [before, now] = await bench.service.db.rackPhotograph.findMany({
    orderBy: { takenAt: 'asc' },
    select: { takenAt: true, lots: { select: { lotId: true, photoId: true, whiteness: true } } },
  });
  expect(bench.service.now().getTime() - (now?.takenAt.getTime() ?? 0)).toBeLessThan(2 * 86_400_000);
  const { rows } = await bench.service.pool.query<{ lotId: string; photoId: string; isPale: boolean }>(
    `SELECT lot_id AS "lotId", photo_id AS "photoId",
            EXISTS (SELECT FROM condition WHERE lot_id = face.lot_id AND state = 'paling') AS "isPale"
       FROM lot_face AS face`,
  );
  const faces = new Map(rows.map((row) => [row.lotId, row]));
  const earlier = new Map(before?.lots.map((lot) => [lot.lotId, lot.whiteness]));
  const changes = (isPale: boolean) =>
    (now?.lots ?? []).flatMap(({ lotId, whiteness }) => {
      const then = earlier.get(lotId) ?? null;
      const counts = whiteness !== null && then !== null && faces.get(lotId)?.isPale === isPale;
      return counts ? [whiteness - then] : [];
    });
  const [pale, others] = [changes(true), changes(false)];
  expect(pale.length).toBeGreaterThan(3);
  const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
  expect(mean(pale)).toBeGreaterThan(3);
  expect(mean(others.map(Math.abs))).toBeLessThan(1.5);
  const unread = (now?.lots ?? []).filter(({ whiteness }) => whiteness === null);
  expect(unread.length).toBeLessThanOrEqual((now?.lots.length ?? 0) / 10);
  for (const { lotId, photoId } of now?.lots ?? []) expect(faces.get(lotId)?.photoId).toBe(photoId);
});

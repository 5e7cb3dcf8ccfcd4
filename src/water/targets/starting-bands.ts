import type pg from 'pg';
import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import { type Care, kindCare, lotCare } from '../../stock/kinds/care.ts';
import { listQuantities, type Quantity } from '../quantities/quantities.ts';
import { findOpenWaterSystem } from '../systems/systems.ts';
import { type KindBands, type StartingBand, startingBands } from './starting-bands.rules.ts';
import { listTargets } from './targets.ts';

const stockKindQuery = 'SELECT stock_kind_id AS "kindId" FROM system WHERE id = $1::uuid';

/** The bands of a kind's care; what is only from memory proposes nothing. */
function bandsOf(care: Care, quantities: readonly Quantity[]): KindBands {
  return Object.fromEntries(
    quantities.flatMap(({ code }) => {
      const figure = care[code];
      return figure === undefined || figure.basis === 'from_memory' ? [] : [[code, figure]];
    }),
  );
}

/** The bands that a system would start with today, by the kind it is said to be for and by what stands in it. */
async function bandsFor(
  reader: SqlReader,
  systemId: string,
  quantities: readonly Quantity[],
): Promise<StartingBand[]> {
  const [stated, kinds, lots] = [
    await reader.query<{ kindId: string | null }>(stockKindQuery, [systemId]),
    await kindCare(reader),
    await lotCare(reader, { systemId }),
  ];
  const own = kinds.get(stated.rows[0]?.kindId ?? '');
  const cares = [...new Set([...(own === undefined ? [] : [own]), ...lots.values()])];
  return startingBands(
    quantities,
    cares.map((care) => bandsOf(care, quantities)),
  );
}

/** Gives a new system the bands it starts with, marked as such. */
export async function startBands(work: Work, systemId: string): Promise<void> {
  const bands = await bandsFor(readerOf(work.tx), systemId, await listQuantities(work.tx));
  await work.tx.systemQuantity.createMany({ data: bands.map((band) => rowOf(systemId, band)) });
}

const rowOf = (systemId: string, { quantityCode, low, high, source }: StartingBand) => ({
  systemId,
  quantityCode,
  bandLow: low,
  bandHigh: high,
  source,
  starting: true,
});

/** A band that could stand where none is chosen, and the starting band that stands there now, if any. */
export interface ProposedBand extends StartingBand {
  instead: { low: number | null; high: number | null } | null;
}

/**
 * What is proposed for a system today: a band where it has none, and another where one it started with was never
 * confirmed and what stands there now asks for another. What was chosen or confirmed is never proposed anew.
 */
export async function proposedBands(
  { pool, quantities }: { pool: pg.Pool; quantities: readonly Quantity[] },
  systemId: string,
  targets: Awaited<ReturnType<typeof listTargets>>,
): Promise<ProposedBand[]> {
  return proposalsAmong(await bandsFor(pool, systemId, quantities), targets);
}

function proposalsAmong(
  bands: readonly StartingBand[],
  targets: Awaited<ReturnType<typeof listTargets>>,
): ProposedBand[] {
  return bands.flatMap((band): ProposedBand[] => {
    const kept = targets.get(band.quantityCode);
    if (kept === undefined || (kept.bandLow === null && kept.bandHigh === null))
      return [{ ...band, instead: null }];
    const same = near(kept.bandLow, band.low) && near(kept.bandHigh, band.high);
    return !kept.starting || same ? [] : [{ ...band, instead: { low: kept.bandLow, high: kept.bandHigh } }];
  });
}

const near = (a: number | null, b: number) =>
  a !== null && Math.abs(a - b) <= 1e-9 * Math.max(1, Math.abs(b));

/**
 * Takes what is proposed for a system as starting bands; what was chosen or confirmed stays.
 * @throws Refusal 404, 422 when the system is retired, 409 when nothing is proposed any longer
 */
export async function takeProposedBands(work: Work, systemId: string): Promise<{ taken: number }> {
  const system = await findOpenWaterSystem(work.tx, systemId);
  const targets = await listTargets(work.tx, systemId);
  const bands = await bandsFor(readerOf(work.tx), systemId, await listQuantities(work.tx));
  const proposed = proposalsAmong(bands, targets);
  if (proposed.length === 0)
    throw new Refusal('Nothing is proposed here any longer. Open the page again.', { status: 409 });
  for (const band of proposed) {
    const { quantityCode } = band;
    const row = rowOf(systemId, band);
    await work.tx.systemQuantity.upsert({
      where: { systemId_quantityCode: { systemId, quantityCode } },
      create: row,
      update: row,
    });
  }
  work.record(
    'targets.proposed',
    { type: 'system', id: systemId },
    { system: system.name, bands: proposed.map(({ instead: _, ...band }) => band) },
  );
  work.reevaluate(systemId);
  return { taken: proposed.length };
}

/**
 * Makes the bands a system started with its own: from now on they count as chosen.
 * @throws Refusal 404, 422 when the system is retired, 409 when none is left to confirm
 */
export async function confirmBands(work: Work, systemId: string): Promise<{ confirmed: number }> {
  const system = await findOpenWaterSystem(work.tx, systemId);
  const where = { systemId, starting: true };
  const rows = await work.tx.systemQuantity.findMany({ where, select: { quantityCode: true } });
  if (rows.length === 0)
    throw new Refusal('No starting band is left to confirm. Open the page again.', { status: 409 });
  await work.tx.systemQuantity.updateMany({ where, data: { starting: false } });
  const quantities = rows.map(({ quantityCode }) => quantityCode);
  work.record('targets.confirmed', { type: 'system', id: systemId }, { system: system.name, quantities });
  work.reevaluate(systemId);
  return { confirmed: rows.length };
}

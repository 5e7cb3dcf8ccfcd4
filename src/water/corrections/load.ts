import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { isRunning } from '../../platform/plans/plans.rules.ts';
import { litres } from '../../platform/units/measures.ts';
import { displayNow } from '../../platform/units/reader-quantities.ts';
import { dayOf, daysBefore } from '../../science/numeric/time.ts';
import { type ChosenBand, noBand } from '../acute/acute-states.rules.ts';
import { type Correctable, meansName, quantitiesChangedBy } from '../dosing/substances.rules.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import type { Quantity } from '../quantities/quantities.ts';
import { readDisagreements } from '../trust/disagreements.ts';
import type { LevelChange } from './expected-level.rules.ts';
import type { NextStep } from './hold.rules.ts';
import {
  basisSchema,
  type CorrectionFilter,
  type CorrectionRow,
  chosenBandQuery,
  correctionsQuery,
  type LoggedRow,
  loggedQuery,
  readingsQuery,
  type StepRow,
  stepsQuery,
  suspectKitsQuery,
  waterQuery,
} from './queries.ts';
import type { WaterChemistry } from './saturation.rules.ts';
import type { Candidate } from './starting-reading.rules.ts';
import { type CorrectionRecord, type CorrectionState, nextOpenStep } from './state.ts';

/** A correction with what each of its steps did to the level. */
interface LoadedCorrection {
  record: CorrectionRecord;
  changes: LevelChange[];
}

/** Corrections with their steps and nothing else, the newest first: two queries, however many there are. */
export async function readCorrectionRecords(
  reader: SqlReader,
  filter: CorrectionFilter,
): Promise<CorrectionRecord[]> {
  return (await loadCorrections(reader, filter)).map(({ record }) => record);
}

/** Corrections with what decides about their next steps, as known at `at`: seven queries, however many there are. */
export async function readCorrections(
  reader: SqlReader,
  { id, ...filter }: CorrectionFilter,
  at: Date,
): Promise<CorrectionState[]> {
  // Of one alone, those that run beside it are read too: they may hold it back.
  const loaded = await loadCorrections(reader, id === undefined ? filter : { id, running: true });
  const records = loaded.map(({ record }) => record);
  return addReadings(
    reader,
    loaded.filter(({ record }) => id === undefined || record.id === id),
    records,
    at,
  );
}

/** Records with what decides about their next steps: five queries. @param all those that may run beside them */
async function addReadings(
  reader: SqlReader,
  loaded: readonly LoadedCorrection[],
  all: readonly CorrectionRecord[],
  at: Date,
): Promise<CorrectionState[]> {
  if (loaded.length === 0) return [];
  const records = loaded.map(({ record }) => record);
  const systemIds = records.map(({ systemId }) => systemId);
  const since = records.map(({ reading }) => daysBefore(reading.at, 2));
  const earliest = new Date(Math.min(...since.map((from) => from.getTime())));
  const codes = records.map(({ quantity }) => quantity.code);
  type ReadingRow = Candidate & { systemId: string; quantityCode: string };
  const readings = (await reader.query<ReadingRow>(readingsQuery, [systemIds, codes, since, at])).rows;
  const water = await readChemistry(reader, systemIds, at);
  const logged = (await reader.query<LoggedRow>(loggedQuery, [systemIds, earliest, at])).rows;
  const suspectKits = await readSuspectKits(reader);
  const disagreement = await readDisagreements(reader, systemIds);
  return loaded.map(({ record, changes }) => {
    const isOfIt = (one: { systemId: string; quantityCode: string }) =>
      one.systemId === record.systemId && one.quantityCode === record.quantity.code;
    return {
      ...record,
      course: courseOf(record, changes),
      readings: distinct(readings.filter(isOfIt)).filter(
        (one) => dayOf(one.at) >= dayOf(record.reading.at) - 2,
      ),
      suspectKits,
      disagreement: disagreement(record.systemId, record.quantity.code),
      others: othersOf(record, all),
      outside: logged.filter(isOfIt).map((one) => outsideOf(one, record)),
      water: water(record.systemId),
    };
  });
}

async function loadCorrections(
  reader: SqlReader,
  { systemIds, id, running = false, page }: CorrectionFilter,
): Promise<LoadedCorrection[]> {
  const { after, limit } = page ?? { after: null, limit: null };
  const which = [systemIds ?? null, id ?? null, running, ...(after ?? [null, null]), limit];
  const { rows } = await reader.query<CorrectionRow>(correctionsQuery, which);
  if (rows.length === 0) return [];
  const steps = (await reader.query<StepRow>(stepsQuery, [rows.map((row) => row.id)])).rows;
  const byCorrection = Map.groupBy(steps, (step) => step.correctionId);
  return rows.map((row) => loadedOf(row, byCorrection.get(row.id) ?? []));
}

function loadedOf(row: CorrectionRow, steps: readonly StepRow[]): LoadedCorrection {
  const basis = basisSchema.parse(row.basis);
  const record = {
    ...row,
    basis,
    quantity: quantityOf(row.quantity),
    reading: { ...row.reading, at: basis.fromAt },
    steps: steps.map(({ effect, changedL, correctionId, ...step }, i) => ({
      ...step,
      change: basis.changes[i] ?? 0,
      expectedU: basis.afterU[i] ?? 0,
    })),
  };
  return { record, changes: steps.flatMap((step) => changeByStep(step, row.volumeL, basis.makeUp)) };
}

/** A quantity out of a row as the database spells it. */
function quantityOf(row: Record<string, unknown>): Quantity {
  const camel = (name: string) => name.replace(/_([a-z])/g, (_, letter: string) => letter.toUpperCase());
  return displayNow(
    Object.fromEntries(
      Object.entries(row).map(([name, value]) => [camel(name), value]),
    ) as unknown as Quantity,
  );
}

const distinct = <T extends { id: string }>(all: readonly T[]): T[] => [
  ...new Map(all.map((one) => [one.id, one])).values(),
];

const courseOf = ({ basis, reading, quantity }: CorrectionRecord, done: LevelChange[]) => ({
  from: { day: dayOf(reading.at), value: reading.value, u: basis.fromU },
  driftPerDay: basis.drift?.perDay ?? 0,
  driftSd: basis.drift?.sd ?? 0,
  relativeU: basis.relativeU,
  saline: quantity.code === 'salinity',
  done,
});

function changeByStep(
  { doneAt, effect, changedL, voided }: StepRow,
  volumeL: number,
  makeUp: number | null,
): LevelChange[] {
  if (doneAt === null || voided) return [];
  if (effect !== null) return [{ day: dayOf(doneAt), rise: effect }];
  return changedL === null || makeUp === null
    ? []
    : [{ day: dayOf(doneAt), fraction: changedL / volumeL, makeUp }];
}

function outsideOf(one: LoggedRow, { volumeL, reading }: CorrectionRecord): NextStep['outside'][number] {
  const part = Math.min(1, (one.volumeL ?? 0) / volumeL);
  const moves = one.rise ?? part * ((one.makeUp ?? reading.value) - reading.value);
  const words =
    one.rise === null
      ? `A water change of ${litres(one.amount)}`
      : `A dose of ${one.amount} ${one.unit} ${one.substance}`;
  return { at: one.at, moves, words };
}

/** Other running corrections of the system that move the same quantity, by name. */
function othersOf({ id, systemId, quantity }: CorrectionRecord, all: readonly CorrectionRecord[]): string[] {
  return all
    .filter(
      (one) => one.id !== id && one.systemId === systemId && isRunning(one) && nextOpenStep(one) !== null,
    )
    .filter((one) =>
      quantitiesChangedBy(one.means, one.quantity.code as Correctable).includes(quantity.code as Correctable),
    )
    .map((one) => `${nameInSentence(one.quantity.name)} by ${meansName(one.means)}`);
}

/** What a correction looks at besides its own quantity. */
const chemistryCodes = ['alkalinity', 'calcium', 'magnesium', 'salinity', 'temperature', 'ph'] as const;

/** The chemistry of these systems at a time, as a function of the system. One query. */
async function readChemistry(
  reader: SqlReader,
  systemIds: readonly string[],
  at: Date,
): Promise<(systemId: string) => WaterChemistry> {
  type LevelRow = { systemId: string; code: keyof WaterChemistry; value: number };
  const { rows } = await reader.query<LevelRow>(waterQuery, [systemIds, [...chemistryCodes], at]);
  return (systemId) => {
    const levelOf = (code: keyof WaterChemistry) =>
      rows.find((row) => row.systemId === systemId && row.code === code)?.value ?? null;
    return Object.fromEntries(
      chemistryCodes.map((code) => [code, levelOf(code)]),
    ) as unknown as WaterChemistry;
  };
}

async function readSuspectKits(reader: SqlReader): Promise<ReadonlySet<string>> {
  const { rows } = await reader.query<{ id: string }>(suspectKitsQuery);
  return new Set(rows.map(({ id }) => id));
}

/** The band of one quantity that somebody chose here. */
export async function readChosenBand(
  reader: SqlReader,
  systemId: string,
  code: Correctable,
): Promise<ChosenBand> {
  const { rows } = await reader.query<ChosenBand>(chosenBandQuery, [systemId, code]);
  return rows[0] ?? noBand;
}

/** The newest readings of one quantity, the kits nobody trusts, sources that disagree, and the water's chemistry, for a plan to start from. */
export async function readWaterNow(
  reader: SqlReader,
  systemId: string,
  code: Correctable,
  now: Date,
): Promise<Pick<CorrectionState, 'suspectKits' | 'disagreement' | 'water'> & { readings: Candidate[] }> {
  const wanted = [[systemId], [code], [daysBefore(now, 14)], now];
  const readings = (await reader.query<Candidate>(readingsQuery, wanted)).rows;
  const water = await readChemistry(reader, [systemId], now);
  const suspectKits = await readSuspectKits(reader);
  const disagreement = (await readDisagreements(reader, [systemId]))(systemId, code);
  return { readings, suspectKits, disagreement, water: water(systemId) };
}

import type { Quantity } from '../../generated/prisma/client.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { localDay } from '../../platform/days.ts';
import { litres } from '../../platform/words/numbers.ts';
import { dayOf, daysAfter, daysBefore } from '../../science/numeric/time.ts';
import {
  type Correctable,
  type MeansCode,
  marginOf,
  meansName,
  quantitiesChangedBy,
} from '../dosing/substances.rules.ts';
import type { Course, Moved } from './expected-level.rules.ts';
import { type Ahead, type Hold, holdOf } from './hold.rules.ts';
import {
  type Basis,
  basisSchema,
  type CorrectionFilter,
  corrections,
  type LoggedRow,
  logged,
  readings,
  type StepRow,
  steps,
  suspects,
  together,
  togetherOf,
  watched,
} from './queries.ts';
import type { Together } from './saturation.rules.ts';
import type { Candidate } from './starting-reading.rules.ts';

/** One step as it stands. */
export interface StepState {
  id: string;
  position: number;
  /** Local day planned, "2026-11-24". */
  dueOn: string;
  amount: number;
  unit: 'g' | 'mL' | 'L';
  /** What it changes at once, canonical. */
  change: number;
  expectedAfter: number;
  expectedU: number;
  retest: boolean;
  doneAt: Date | null;
  doneBy: string | null;
  leftOutAt: Date | null;
  voided: boolean;
  note: string;
}

/** A correction with everything that decides about its next step. */
export interface CorrectionState {
  id: string;
  systemId: string;
  systemName: string;
  timeZone: string;
  quantity: Quantity;
  means: MeansCode;
  basis: Basis;
  reading: { id: string; at: Date; value: number };
  target: number;
  dailyCap: number;
  capSource: string;
  volumeL: number;
  reason: string;
  startsOn: string;
  by: string | null;
  createdAt: Date;
  finishedAt: Date | null;
  stoppedAt: Date | null;
  stopReason: string | null;
  revisesId: string | null;
  revisedById: string | null;
  version: number;
  steps: StepState[];
  course: Course;
  readings: Candidate[];
  suspectKits: ReadonlySet<string>;
  others: string[];
  outside: Ahead['outside'];
  together: Together;
}

interface CorrectionRow
  extends Omit<
    CorrectionState,
    | 'quantity'
    | 'basis'
    | 'steps'
    | 'course'
    | 'readings'
    | 'suspectKits'
    | 'others'
    | 'outside'
    | 'together'
    | 'reading'
  > {
  quantity: Record<string, unknown>;
  basis: unknown;
  reading: { id: string; value: number };
}

/** Corrections with what decides about their next steps: six queries, however many there are. */
export async function readCorrections(
  reader: SqlReader,
  { systemIds, id, running = false }: CorrectionFilter,
  now: Date,
): Promise<CorrectionState[]> {
  // Of one alone, those that run beside it are read too: they may hold it back.
  const found = (
    await reader.query<CorrectionRow>(corrections, [
      systemIds ?? null,
      id ?? null,
      running || id !== undefined,
    ])
  ).rows;
  if (found.length === 0) return [];
  const rows = found.map((row) => ({ ...row, basis: basisSchema.parse(row.basis) }));
  const systems = [...new Set(rows.map((row) => row.systemId))];
  const since = rows.map((row) => daysBefore(row.basis.fromAt, 2));
  const earliest = new Date(Math.min(...since.map((at) => at.getTime())));
  // One after the other: inside a change they share one connection.
  const stepRows = (await reader.query<StepRow>(steps, [rows.map((row) => row.id)])).rows;
  const wanted = [rows.map((row) => row.systemId), rows.map((row) => String(row.quantity.code)), since, now];
  const read = (await reader.query<Candidate & { systemId: string; quantityCode: string }>(readings, wanted))
    .rows;
  const water = (
    await reader.query<{ systemId: string; code: string; value: number }>(together, [
      systems,
      [...watched],
      now,
    ])
  ).rows;
  const log = (await reader.query<LoggedRow>(logged, [systems, earliest, now])).rows;
  const suspectKits = new Set((await reader.query<{ id: string }>(suspects, [])).rows.map((row) => row.id));
  const states = rows.map((row) =>
    stateOf(row, {
      steps: stepRows.filter((step) => step.correctionId === row.id),
      readings: distinct(
        read.filter((one) => one.systemId === row.systemId && one.quantityCode === row.quantity.code),
      ).filter((one) => dayOf(one.at) >= dayOf(row.basis.fromAt) - 2),
      logged: log.filter((one) => one.systemId === row.systemId && one.quantityCode === row.quantity.code),
      water: water.filter((one) => one.systemId === row.systemId),
      suspectKits,
    }),
  );
  return states
    .filter((state) => id === undefined || state.id === id)
    .map((state) => ({ ...state, others: othersOf(state, states) }));
}

const distinct = <T extends { id: string }>(all: readonly T[]): T[] => [
  ...new Map(all.map((one) => [one.id, one])).values(),
];

interface Around {
  steps: StepRow[];
  readings: Candidate[];
  logged: LoggedRow[];
  water: { code: string; value: number }[];
  suspectKits: ReadonlySet<string>;
}

function stateOf(row: Omit<CorrectionRow, 'basis'> & { basis: Basis }, around: Around): CorrectionState {
  const { basis } = row;
  return {
    ...row,
    quantity: quantityOf(row.quantity),
    reading: { ...row.reading, at: basis.fromAt },
    steps: around.steps.map(({ effect, changedL, correctionId, ...step }, i) => ({
      ...step,
      change: basis.changes[i] ?? 0,
      expectedU: basis.afterU[i] ?? 0,
    })),
    course: {
      from: { day: dayOf(basis.fromAt), value: row.reading.value, u: basis.fromU },
      driftPerDay: basis.drift?.perDay ?? 0,
      driftSd: basis.drift?.sd ?? 0,
      relativeU: basis.relativeU,
      saline: row.quantity.code === 'salinity',
      done: around.steps.flatMap((step) => movedByStep(step, row.volumeL, basis.makeUp)),
    },
    readings: around.readings,
    suspectKits: around.suspectKits,
    others: [],
    outside: around.logged.map((one) => outsideOf(one, row)),
    together: togetherOf(around.water),
  };
}

/** A quantity out of a row as the database spells it. */
function quantityOf(row: Record<string, unknown>): Quantity {
  const camel = (name: string) => name.replace(/_([a-z])/g, (_, letter: string) => letter.toUpperCase());
  return Object.fromEntries(
    Object.entries(row).map(([name, value]) => [camel(name), value]),
  ) as unknown as Quantity;
}

function movedByStep(
  { doneAt, effect, changedL, voided }: StepRow,
  volumeL: number,
  makeUp: number | null,
): Moved[] {
  if (doneAt === null || voided) return [];
  if (effect !== null) return [{ day: dayOf(doneAt), rise: effect }];
  return changedL === null || makeUp === null
    ? []
    : [{ day: dayOf(doneAt), fraction: changedL / volumeL, makeUp }];
}

function outsideOf(
  one: LoggedRow,
  row: { volumeL: number; reading: { value: number } },
): Ahead['outside'][number] {
  const part = Math.min(1, (one.volumeL ?? 0) / row.volumeL);
  const moves = one.rise ?? part * ((one.makeUp ?? row.reading.value) - row.reading.value);
  const words =
    one.rise === null
      ? `A water change of ${litres(one.amount)}`
      : `A dose of ${one.amount} ${one.unit} ${one.substance}`;
  return { at: one.at, moves, words };
}

const runs = (state: CorrectionState) => state.finishedAt === null && state.stoppedAt === null;

function othersOf(state: CorrectionState, all: readonly CorrectionState[]): string[] {
  return all
    .filter(
      (one) => one.id !== state.id && one.systemId === state.systemId && runs(one) && openStep(one) !== null,
    )
    .filter((one) =>
      quantitiesChangedBy(one.means, one.quantity.code as Correctable).includes(
        state.quantity.code as Correctable,
      ),
    )
    .map((one) => `${one.quantity.name.toLowerCase()} by ${meansName(one.means)}`);
}

/** Whether a correction is still going on. */
export const isRunning = runs;

/** The next step to be done, if there is one. */
export function openStep(state: CorrectionState): StepState | null {
  return state.steps.find((step) => step.doneAt === null && step.leftOutAt === null) ?? null;
}

/** When the last step was done; null before the first. */
export function lastDone(state: CorrectionState): Date | null {
  const times = state.steps.flatMap((step) => (step.doneAt === null ? [] : [step.doneAt.getTime()]));
  return times.length === 0 ? null : new Date(Math.max(...times));
}

/** The local day on which a step may be done at the earliest: as planned, or the day after the step before it. */
export function dueDay(state: CorrectionState, step: StepState): string {
  const last = lastDone(state);
  if (last === null) return step.dueOn;
  const next = localDay(daysAfter(last, 1), state.timeZone);
  return [next, step.dueOn].sort().at(-1) ?? next;
}

/** Everything the rule of holding back needs for the next step. */
export function aheadOf(state: CorrectionState, step: StepState, now: Date): Ahead {
  return {
    quantity: state.quantity,
    now,
    step,
    course: state.course,
    target: state.target,
    margin: marginOf(state.quantity.code as Correctable),
    lastDoneAt: lastDone(state),
    readings: state.readings,
    suspectKits: state.suspectKits,
    others: state.others,
    outside: state.outside,
    usualPerDay: state.basis.usualPerDay,
    voidedStep: state.steps.some((one) => one.voided),
    together: state.together,
  };
}

/** Whether the day of a step has not come yet. */
export const isEarly = (state: CorrectionState, step: StepState, now: Date): boolean =>
  dueDay(state, step) > localDay(now, state.timeZone);

/** Why the step that is due is held back now; null when it may be done, or none is due. */
export function heldNow(state: CorrectionState, now: Date): Hold | null {
  const step = openStep(state);
  return step === null || !runs(state) || isEarly(state, step, now)
    ? null
    : holdOf(aheadOf(state, step, now));
}

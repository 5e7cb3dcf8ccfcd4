import { uuidv7 } from 'uuidv7';
import { notFound } from '../../platform/refusal.ts';
import type { FormState } from '../../platform/web/forms.ts';
import type { RoundSheet } from '../round/round-sheet.ts';
import type { TestRow } from '../round/test-rows.ts';
import { choreRows, headOf, roundPath, type Screen, systemPath, testsPath } from './screens.ts';
import { nextRackOf } from './system-screen.ts';
import { systemTasks } from './task-rows.ts';

/** The tests of one system. The tablet shows them one at a time; without its script they are a list. */
export function testsScreen(
  sheet: RoundSheet,
  systemId: string,
  tests: readonly TestRow[],
  form: FormState,
): Screen {
  const { round } = sheet;
  const system = sheet.systems.find((one) => one.id === systemId);
  if (system === undefined) throw notFound('This system, on this round,');
  const tested = sheet.tested.filter((one) => one.systemId === systemId);
  return {
    view: 'rounds/tests',
    title: `Tests of ${system.name}: ${round.plan.name}`,
    data: {
      ...headOf(sheet),
      system,
      back: systemPath(round.id, systemId),
      path: testsPath(round.id, systemId),
      entries: `/rounds/${round.id}/entries`,
      nextRack: nextRackOf(sheet, systemId),
      onward: !isMoreDue(sheet, systemId),
      end: `${roundPath(round.id)}/end`,
      rows: tests.map((row) => ({
        ...testForm(row, form),
        tested: tested.findLast(({ code }) => code === row.code)?.said ?? null,
      })),
      padKeys: PAD,
    },
  };
}

/** Whether something besides tests is still to be done in this system. */
function isMoreDue(sheet: RoundSheet, systemId: string): boolean {
  const { round, fed } = sheet;
  const unfed = round.plan.steps.includes('feed') && !fed.some((one) => one.systemId === systemId);
  const ticks = systemTasks(sheet, systemId).ticks.some(({ done }) => !done);
  return unfed || ticks || choreRows(sheet, systemId).some(({ done }) => !done);
}

/** The keys of the pad, row by row; "<" says below what the test sees, ">" beyond its scale. */
const PAD = ['7', '8', '9', 'back', '4', '5', '6', '<', '1', '2', '3', '>', '.', '0'];

const testForm = (row: TestRow, form: FormState) => ({
  ...row,
  ...typedOf(row, form),
  entryId: uuidv7(),
});

/** What was typed in a test's row and came back, with what is wrong with it or asked of it. */
function typedOf(row: TestRow, { typed, errors }: FormState) {
  const mine = typed.kind === 'reading' && typed.quantityCode === row.code;
  const doubt = mine ? errors.find((error) => error.field === `${row.code}-sure`) : undefined;
  const error = mine && doubt === undefined ? errors[0] : undefined;
  const unit = mine && typed.unit ? String(typed.unit) : row.unit;
  const how = mine && typed.how ? String(typed.how) : row.how;
  return {
    typed: mine ? String(typed.text ?? '') : '',
    dilution: mine ? String(typed.dilution ?? '') : '',
    unit,
    unitName: row.units.find(({ value }) => value === unit)?.text ?? '',
    how,
    howName: row.hows.find(({ value }) => value === how)?.text ?? '',
    kitDoubt: row.hows.find(({ value }) => value === how)?.doubt ?? '',
    doubt: doubt?.message ?? null,
    error: error?.message ?? null,
  };
}

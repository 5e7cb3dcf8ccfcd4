import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { say, sayDifference } from '../quantities/quantities.ts';
import { metBy } from './hold.rules.ts';
import { aheadOf, lastDone, openStep, readCorrections } from './state.ts';
import { bump } from './steps.ts';

/**
 * Finishes the running corrections of these quantities whose target a retest has met. Called with every change of the
 * readings, in the same change.
 */
export async function finishCorrections(
  work: Work,
  systemId: string,
  codes: readonly string[],
): Promise<void> {
  const states = await readCorrections(readerOf(work.tx), { systemIds: [systemId], running: true }, work.now);
  for (const state of states.filter((one) => codes.includes(one.quantity.code))) {
    const step = openStep(state) ?? state.steps.at(-1);
    if (step === undefined) continue;
    const met = metBy({
      ...aheadOf(state, step, work.now),
      fromValue: state.reading.value,
      fromAt: state.reading.at,
      allDone: openStep(state) === null && lastDone(state) !== null,
    });
    if (met === null) continue;
    const { quantity } = state;
    await bump(work, state, { finishedAt: work.now });
    work.record(
      'correction.finished',
      { type: 'correction', id: state.id },
      {
        system: state.systemName,
        read: say(quantity, met.value),
        target: say(quantity, state.target),
        apart: sayDifference(quantity, Math.abs(met.value - state.target), met.value),
        reading: met.id,
      },
    );
  }
}

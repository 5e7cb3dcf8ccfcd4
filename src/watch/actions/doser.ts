import type { Alert } from '../../alerts/alerts.ts';
import { actOnAlert } from '../../alerts/changes.ts';
import { askForLook } from '../../farm/looks/looks.ts';
import type { Work } from '../../platform/change.ts';
import { addDays, localDay, momentOf } from '../../platform/days.ts';
import { lowered } from '../../platform/words/capitals.ts';
import { timeWords, whenWords } from '../../platform/words/times.ts';
import { type DoserState, doserFindings } from '../answers/doser-findings.rules.ts';

/** What was found at the doser (one of `doserFindings`), and what it gave in a minute where that was measured, mL. */
export interface DoserLook {
  found: string;
  /** Whether it gives its full amount again; '' where nothing was wrong. */
  again: string;
  /** Since when it does. */
  since: Date;
  givenMl: number | null;
  note: string;
}

/** Days on which the water is tested at the same hour after a look at the doser: as the alert says. */
const testDays = 3;
/** The hour where nothing was tested lately: before the day's work; own choice. */
const usualHour = '08:30';

const lastTestQuery = `SELECT max(at) AS at FROM reading WHERE system_id = $1::uuid AND quantity_code = $2 AND voided_at IS NULL AND slot_id IS NULL`;

/**
 * Notes what was found at the doser on the alert, and asks for a test at the same hour on three days. What was found and is
 * not put right yet answers no alert.
 */
export async function noteDoserLook(
  work: Work,
  alert: Pick<Alert, 'id' | 'systemId'>,
  look: DoserLook,
  { quantityCode, timeZone }: { quantityCode: string; timeZone: string },
): Promise<void> {
  const doser = doserStateOf(look);
  await actOnAlert(work, alert.id, lookWords(look, doser, { timeZone, now: work.now }), {
    ...{ doser, found: look.found, code: quantityCode },
    ...(doser === 'righted' ? { since: look.since.toISOString() } : {}),
  });
  const quantity = await work.tx.quantity.findUnique({ where: { code: quantityCode } });
  if (quantity === null) return;
  const [last] = await work.tx.$queryRawUnsafe<{ at: Date | null }[]>(
    lastTestQuery,
    alert.systemId,
    quantityCode,
  );
  const clock = last?.at == null ? usualHour : timeWords(last.at, timeZone);
  for (let day = 1; day <= testDays; day += 1) {
    await askForLook(work, {
      systemId: alert.systemId,
      key: `alert test:${alert.id}:${day}`,
      title: `Test ${quantity.name.toLowerCase()}`,
      detail: `Day ${day} of ${testDays} after the doser was looked at: at the same hour each day.`,
      href: `/water/systems/${alert.systemId}/readings/new`,
      dueAt: momentOf(addDays(localDay(work.now, timeZone), day), clock, timeZone),
      urgent: false,
    });
  }
}

/** What a look at a doser comes to. */
export function doserStateOf({ found, again }: Pick<DoserLook, 'found' | 'again'>): DoserState {
  if (found === 'well') return 'well';
  return again === 'yes' ? 'righted' : 'wrong';
}

function lookWords(
  { found, since, givenMl, note }: DoserLook,
  doser: DoserState,
  { timeZone, now }: { timeZone: string; now: Date },
): string {
  const text = doserFindings.find(({ value }) => value === found)?.text ?? found;
  const again = {
    well: '',
    righted: `it gives its full amount again since ${whenWords(since, timeZone, now)}`,
    wrong: 'not put right yet',
  };
  const parts = [
    `looked at the doser: ${lowered(text)}`,
    again[doser],
    givenMl === null ? '' : `it gave ${givenMl} mL in a minute`,
    note,
  ];
  return parts.filter((part) => part !== '').join('; ');
}

import type pg from 'pg';
import type { DueTask } from '../../farm/tasks/due-task.ts';
import { addDays, localDay, momentOf } from '../../platform/days.ts';
import type { CalendarEvent } from '../../platform/words/calendar-file.ts';
import { plural } from '../../platform/words/numbers.ts';
import { hourMs } from '../../science/numeric/time.ts';
import { claimClock } from '../../stock/shipping/claims.rules.ts';
import { stocktakeRoutine } from '../../stock/stocktakes/due.ts';
import { plannedRounds } from '../schedule/schedule.ts';
import { tasksDue } from '../tasks/tasks.ts';

/** How far a calendar looks ahead, in days (own choice: what is due later hangs on what is done until then). */
const daysAhead = 14;
/** A round, and the end of a claim, take so long in a calendar (own choice). */
const minutes = 60;

/** A site, and how its pages are linked. */
export interface CalendarAsk {
  siteId: string;
  timeZone: string;
  now: Date;
  linkOf(path: string): string;
}

/**
 * The due work of a site as events: rounds at their time; routines, steps of plans, services, checks and looks on their day
 * (overdue ones today); holds, claims, kits and stocktakes as they end. A fixed number of queries a day ahead.
 */
export async function dueEvents(pool: pg.Pool, ask: CalendarAsk): Promise<CalendarEvent[]> {
  const today = localDay(ask.now, ask.timeZone);
  const { rows } = await pool.query<{ id: string }>(
    'SELECT id FROM system WHERE site_id = $1 AND retired_at IS NULL ORDER BY position, name',
    [ask.siteId],
  );
  const systems = rows.map(({ id }) => id);
  const events = await endingEvents(pool, ask, today);
  for (let ahead = 0; ahead < daysAhead; ahead += 1) {
    const day = addDays(today, ahead);
    const at = ahead === 0 ? ask.now : momentOf(day, '12:00', ask.timeZone);
    for (const { planId, name, dueAt, day: of, state } of await plannedRounds(pool, ask.siteId, at, 0))
      if (of === day && state !== 'finished')
        events.push({
          uid: `round-${planId}-${day}`,
          when: { at: dueAt, minutes },
          ...{ title: `Round: ${name}`, description: '', url: ask.linkOf('/rounds') },
        });
    for (const task of await tasksDue(pool, systems, at))
      if (!task.done && (task.dueOn === day || (ahead === 0 && task.dueOn < day)))
        events.push(taskEvent(task, day, ask));
  }
  return events;
}

function taskEvent(task: DueTask, day: string, { linkOf }: CalendarAsk): CalendarEvent {
  const { key, title, systemName, detail, cautions, held, overdueDays, dueOn, href } = task;
  const lines = [
    ...(overdueDays > 0 && dueOn < day ? [`Overdue for ${plural(overdueDays, 'day', 'days')}.`] : []),
    ...(held === null ? [] : [`Not yet: ${held}`]),
    ...detail,
    ...cautions,
  ];
  return {
    uid: `${key.replace(':', '-')}-${dueOn}`,
    when: { day },
    ...{ title: `${systemName}: ${title}`, description: lines.join('\n'), url: linkOf(href) },
  };
}

interface Ending {
  kind: 'hold' | 'kit' | 'delivery' | 'box';
  id: string;
  name: string;
  day: string | null;
  from: Date | null;
  hours: number | null;
  page: string;
}

const endings = `
  SELECT 'hold' AS kind, hold.id, lot.code || ' for ' || hold.buyer AS name, hold.until::text AS day, NULL::timestamptz AS from, NULL::float8 AS hours,
         '/stock/' || lot.code AS page
    FROM hold JOIN lot ON lot.id = hold.lot_id
   WHERE lot.site_id = $1 AND hold.released_at IS NULL AND hold.until BETWEEN $2::date AND $3::date
     AND NOT EXISTS (SELECT FROM sale WHERE sale.hold_id = hold.id)
  UNION ALL
  SELECT 'kit', kit.id, kit.label, kit.expires_on::text, NULL, NULL, '/water/kits/' || kit.id FROM kit
   WHERE kit.retired_at IS NULL AND kit.expires_on BETWEEN $2::date AND $3::date
  UNION ALL
  SELECT 'delivery', id, supplier, NULL, came_at, claim_hours, '/stock/deliveries/' || id FROM delivery
   WHERE site_id = $1 AND voided_at IS NULL AND claimed_at IS NULL AND claim_hours IS NOT NULL
     AND came_at + claim_hours * interval '1 hour' > $4::timestamptz
  UNION ALL
  SELECT 'box', ordered.id, ordered.buyer, NULL, box.arrived_at, box.claim_hours, '/stock/orders/' || ordered.id
    FROM shipment AS box JOIN sales_order AS ordered ON ordered.id = box.order_id
   WHERE ordered.site_id = $1 AND box.arrived_at IS NOT NULL AND box.claim_hours IS NOT NULL
     AND box.arrived_at + box.claim_hours * interval '1 hour' > $4::timestamptz`;

const endingWords: Readonly<Record<Ending['kind'], (name: string) => string>> = {
  hold: (name) => `Hold ends: ${name}`,
  kit: (name) => `Kit runs out: ${name}`,
  delivery: (name) => `Last hour for a claim: delivery of ${name}`,
  box: (name) => `Last hour for a claim of the buyer: ${name}`,
};

async function endingEvents(pool: pg.Pool, ask: CalendarAsk, today: string): Promise<CalendarEvent[]> {
  const until = addDays(today, daysAhead - 1);
  const { rows } = await pool.query<Ending>(endings, [ask.siteId, today, until, ask.now]);
  const events = rows.flatMap(({ kind, id, name, day, from, hours, page }): CalendarEvent[] => {
    const told = {
      ...{ uid: `${kind}-${id}`, title: endingWords[kind](name) },
      ...{ description: '', url: ask.linkOf(page) },
    };
    if (day !== null) return [{ ...told, when: { day } }];
    const clock = claimClock({ arrivedAt: from, claimHours: hours }, ask.now);
    if (clock === null) return [];
    return [{ ...told, when: { at: new Date(clock.endsAt.getTime() - hourMs), minutes } }];
  });
  const stocktake = await stocktakeRoutine(pool, ask.siteId);
  const due = stocktake === null ? null : localDay(stocktake.dueAt, ask.timeZone);
  if (due === null || due > until) return events;
  const told = { title: 'Stocktake', description: '', url: ask.linkOf('/stock/stocktakes') };
  return [...events, { uid: `stocktake-${due}`, when: { day: due < today ? today : due }, ...told }];
}

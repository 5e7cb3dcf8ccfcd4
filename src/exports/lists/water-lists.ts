import { z } from 'zod';
import { memoize } from '../../platform/memoize.ts';
import { biasCorrector } from '../../water/kits/bias.ts';
import { type ExportedLog, logHeads, logRows } from '../../water/log/export.csv.ts';
import { readingHeads, readingRows } from '../../water/readings/export.csv.ts';
import { fromPlace, keyedList } from './keyed-list.ts';
import type { Ask, ExportedList } from './list.ts';
import { sqlList } from './sql-list.ts';
import { columnTypes } from './worked-out-list.ts';

const reader = { access: 'reader' } as const;

async function systemsOf({ service, site }: Ask): Promise<{ id: string; name: string }[]> {
  return service.db.system.findMany({
    where: { siteId: site.id },
    select: { id: true, name: true },
    orderBy: [{ position: 'asc' }, { name: 'asc' }, { id: 'asc' }],
  });
}

/** The systems that are still to be read behind a place in one of them. */
const systemsFrom = async (ask: Ask, after: { systemId: string } | null) =>
  fromPlace(await systemsOf(ask), after === null ? null : ({ id }) => id === after.systemId);

const logPlace = z.strictObject({ systemId: z.uuid(), at: z.iso.datetime(), id: z.uuid() });
const readingPlace = logPlace.extend({ quantityCode: z.string() });

/** A log of all systems as one list. */
const log = (which: ExportedLog, title: string, what: string): ExportedList =>
  keyedList(
    { ...reader, slug: which, title, what },
    columnTypes(logHeads[which], { numbers: ['amount', 'rise', 'pumps off'], times: ['at'] }),
    logPlace,
    async (ask, after, limit) => {
      const systems = await systemsFrom(ask, after);
      return logRows(ask.service.pool, which, { systems, timeZone: ask.site.timeZone, after, limit });
    },
  );

/** One for a whole file, however many pieces it is read in: kits are judged once. */
const correctorOf = memoize(({ service }: Ask) => biasCorrector(service.pool));

const readingNumbers = [
  ...['value', 'standard_uncertainty', 'corrected_value', 'corrected_uncertainty', 'kit_bias', 'factor'],
  'hours_since_dose',
];

/** Water: what was tested, put in and planned. */
export const waterLists: ExportedList[] = [
  keyedList(
    {
      ...reader,
      slug: 'readings',
      title: 'Readings',
      what: 'A reading of any system; of a probe one a day once its values are let go (Farm, the site). “Readings from a file” reads it.',
    },
    columnTypes(readingHeads, { numbers: readingNumbers, times: ['at', 'voided_at', 'entered_at'] }),
    readingPlace,
    async (ask, after, limit) => {
      const systems = await systemsFrom(ask, after);
      const period = { from: new Date(0), to: ask.now, timeZone: ask.site.timeZone };
      const correct = correctorOf(ask);
      return readingRows(ask.service, { systems, code: '', ...period }, { after, limit, correct });
    },
  ),
  log('doses', 'Doses', 'Something that was dosed. “Doses and more from a file” reads it.'),
  log('water-changes', 'Water changes', 'A water change. “Doses and more from a file” reads it.'),
  log('feedings', 'Feedings', 'A feeding. “Doses and more from a file” reads it.'),
  sqlList(
    { ...reader, slug: 'targets', title: 'Targets', what: 'What a system keeps of one quantity.' },
    `SELECT site.name AS site, system.name AS system, kept.quantity_code AS quantity, kept.band_low AS "band from [quantity]",
            kept.band_high AS "band to [quantity]", kept.limit_high AS "upper limit [quantity]", kept.make_up AS "in make-up water [quantity]",
            kept.starting AS "proposed, not confirmed", kept.source
       FROM system_quantity AS kept JOIN system ON system.id = kept.system_id JOIN site ON site.id = system.site_id
       JOIN quantity ON quantity.code = kept.quantity_code
      WHERE site.id = $1 ORDER BY system.position, system.name, quantity.position`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'kits',
      title: 'Kits',
      what: 'An opened bottle set, or an instrument since its calibration; kits are the whole farm’s.',
    },
    `SELECT method.quantity_code AS quantity, method.name AS method, kit.label AS kit, kit.lot_number AS "lot number", kit.opened_at AS "opened at",
            kit.expires_on::text AS "expires on", kit.uses AS "good for (tests)",
            (SELECT count(*)::int FROM reading WHERE kit_id = kit.id AND voided_at IS NULL)
              + (SELECT coalesce(sum(gone), 0)::int FROM reading_rollup WHERE kit_id = kit.id AND grain = 'day' AND gone > 0)
              + (SELECT coalesce(sum(readings), 0)::int FROM reading_pack WHERE kit_id = kit.id) AS "readings made with it",
            method.laboratory, method.is_probe AS "stays in the water", account.name AS "opened by", kit.retired_at AS "not used since"
       FROM kit JOIN method ON method.id = kit.method_id LEFT JOIN account ON account.id = kit.account_id ORDER BY kit.opened_at, kit.id`,
  ),
  sqlList(
    { ...reader, slug: 'checks', title: 'Checks of kits', what: 'A reading of a known standard with a kit.' },
    `SELECT method.quantity_code AS quantity, method.name AS method, kit.label AS kit, checked.at, checked.standard_value AS "standard [quantity]",
            checked.value AS "read [quantity]", checked.note, account.name AS by, checked.voided_at AS "voided at", checked.void_reason AS "why voided"
       FROM check_reading AS checked JOIN kit ON kit.id = checked.kit_id JOIN method ON method.id = kit.method_id
       LEFT JOIN account ON account.id = checked.account_id ORDER BY checked.at, checked.id`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'probes',
      title: 'Probes',
      what: 'A name under which a probe reports, and what it is.',
    },
    `SELECT site.name AS site, system.name AS system, probe.name AS probe, method.quantity_code AS quantity, method.name AS method, kit.label AS instrument,
            method.every_minutes AS "reports every (min)", probe.created_at AS "first heard of",
            (SELECT sum(taken)::int FROM probe_day WHERE name = probe.name) AS "values taken",
            (SELECT sum(rejected)::int FROM probe_day WHERE name = probe.name) AS "values refused"
       FROM probe_name AS probe LEFT JOIN system ON system.id = probe.system_id LEFT JOIN site ON site.id = system.site_id
       LEFT JOIN kit ON kit.id = probe.kit_id LEFT JOIN method ON method.id = kit.method_id
      WHERE probe.system_id IS NULL OR site.id = $1 ORDER BY probe.name`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'corrections',
      title: 'Corrections',
      what: 'A step of a correction: how much, when, and whether it was done.',
    },
    `SELECT site.name AS site, system.name AS system, plan.quantity_code AS quantity, plan.substance, plan.from_value AS "from [quantity]",
            plan.target_value AS "to [quantity]", plan.starts_on::text AS "starts on", plan.reason, planner.name AS "planned by", step.position AS step,
            step.due_on::text AS "due on", step.amount, step.unit, step.expected_after AS "expected after it [quantity]", step.retest AS "test first",
            step.done_at AS "done at", account.name AS "done by", step.left_out_at AS "left out at", step.note,
            plan.finished_at AS "plan finished at", plan.stopped_at AS "plan stopped at", plan.stop_reason AS "why stopped"
       FROM correction AS plan JOIN system ON system.id = plan.system_id JOIN site ON site.id = system.site_id
       JOIN correction_step AS step ON step.correction_id = plan.id LEFT JOIN account AS planner ON planner.id = plan.account_id
       LEFT JOIN account ON account.id = step.done_by_id WHERE site.id = $1 ORDER BY plan.created_at, plan.id, step.position`,
  ),
  sqlList(
    { ...reader, slug: 'routines', title: 'Routines', what: 'Work that a system gets again and again.' },
    `SELECT site.name AS site, system.name AS system, replace(routine.work, '_', ' ') AS work, routine.quantity_code AS quantity, routine.detail::text AS detail,
            array_to_string(routine.weekdays, ' ') AS "weekdays (1 Monday)", CASE WHEN cardinality(routine.weekdays) = 0 THEN routine.every_days END AS "every (days)",
            routine.starts_on::text AS "starts on",
            account.name AS by, routine.created_at AS "made at", routine.ended_at AS "ended at"
       FROM routine JOIN system ON system.id = routine.system_id JOIN site ON site.id = system.site_id
       LEFT JOIN account ON account.id = routine.account_id WHERE site.id = $1 ORDER BY system.position, system.name, routine.created_at, routine.id`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'doser-plans',
      title: 'Dosers',
      what: 'What a doser was set to give, from when to when.',
    },
    `SELECT site.name AS site, system.name AS system, device.name AS doser, plan.from_at AS from, plan.until_at AS until, plan.per_day AS "a day", plan.unit,
            plan.substance, plan.reason, account.name AS by
       FROM doser_plan AS plan JOIN equipment AS device ON device.id = plan.equipment_id JOIN system ON system.id = device.system_id
       JOIN site ON site.id = system.site_id LEFT JOIN account ON account.id = plan.account_id
      WHERE site.id = $1 ORDER BY plan.from_at, plan.id`,
  ),
];

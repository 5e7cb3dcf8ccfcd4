import type { ExportedList } from './list.ts';
import { sqlList } from './sql-list.ts';

const reader = { access: 'reader' } as const;

/** Rounds, alerts, tags and people. */
export const workLists: ExportedList[] = [
  sqlList(
    {
      access: 'manager',
      slug: 'round-plans',
      title: 'Plans of rounds',
      what: 'A plan: when, who, which tanks, what is done on it.',
    },
    `SELECT site.name AS site, plan.name AS plan, plan.starts_at AS "starts at", array_to_string(plan.weekdays, ' ') AS "weekdays (1 Monday)",
            array_to_string(plan.steps, '; ') AS steps, array_to_string(plan.chores, '; ') AS chores, account.name AS "done by",
            (SELECT string_agg(tank.name, '; ' ORDER BY walked.position) FROM round_plan_tank AS walked JOIN tank ON tank.id = walked.tank_id
              WHERE walked.plan_id = plan.id) AS tanks, plan.paused_at AS "paused at"
       FROM round_plan AS plan JOIN site ON site.id = plan.site_id LEFT JOIN account ON account.id = plan.assignee_id
      WHERE site.id = $1 ORDER BY plan.starts_at, plan.name`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'rounds',
      title: 'Rounds with their answers',
      what: 'One thing noted on a round; a round without any has one row.',
    },
    `SELECT site.name AS site, coalesce(rack_system.name, system.name) AS system, plan.name AS plan, round.day::text AS day, round.started_at AS "started at",
            starter.name AS "started by", round.finished_at AS "finished at", replace(entry.kind, '_', ' ') AS entry, tank.name AS tank, rack.name AS rack,
            lot.code AS lot, entry.at, coalesce(entry.detail ->> 'notedBy', account.name) AS by, entry.detail ->> 'state' AS seen,
            entry.detail ->> 'pieces' AS pieces, entry.detail ->> 'label' AS reading, entry.detail ->> 'food' AS food, entry.detail ->> 'note' AS note,
            entry.detail::text AS "all that was kept (JSON)"
       FROM round JOIN round_plan AS plan ON plan.id = round.plan_id JOIN site ON site.id = plan.site_id
       LEFT JOIN round_entry AS entry ON entry.round_id = round.id LEFT JOIN rack ON rack.id = entry.rack_id LEFT JOIN tank ON tank.id = rack.tank_id
       LEFT JOIN system AS rack_system ON rack_system.id = tank.system_id LEFT JOIN system ON system.id = entry.system_id
       LEFT JOIN lot ON lot.id = entry.lot_id LEFT JOIN account ON account.id = entry.account_id LEFT JOIN account AS starter ON starter.id = round.started_by_id
      WHERE site.id = $1 ORDER BY round.day, round.started_at, round.id, entry.at, entry.id`,
  ),
  sqlList(
    { ...reader, slug: 'alerts', title: 'Alerts', what: 'An alert, open or cleared.' },
    `SELECT site.name AS site, system.name AS system, alert.severity AS urgency, alert.title, alert.rule, alert.subject_type AS about, alert.opened_at AS "opened at",
            alert.seen_at AS "seen at", seen.name AS "seen by", alert.put_off_until AS "put off until", alert.put_off_reason AS "why put off",
            alert.cleared_at AS "cleared at", alert.cleared_reason AS "why cleared"
       FROM alert JOIN system ON system.id = alert.system_id JOIN site ON site.id = system.site_id LEFT JOIN account AS seen ON seen.id = alert.seen_by_id
      WHERE site.id = $1 ORDER BY alert.opened_at, alert.id`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'emergencies',
      title: 'Emergencies',
      what: 'One thing noted while something was wrong.',
    },
    `SELECT site.name AS site, emergency.title, emergency.started_at AS "started at", emergency.ended_at AS "ended at", emergency.ending,
            (SELECT string_agg(system.name, '; ' ORDER BY system.name) FROM emergency_system AS hit JOIN system ON system.id = hit.system_id
              WHERE hit.emergency_id = emergency.id) AS system,
            replace(entry.kind::text, '_', ' ') AS entry, entry.step, entry.text, entry.at, account.name AS by
       FROM emergency JOIN site ON site.id = emergency.site_id LEFT JOIN emergency_entry AS entry ON entry.emergency_id = emergency.id
       LEFT JOIN account ON account.id = entry.account_id WHERE site.id = $1 ORDER BY emergency.started_at, emergency.id, entry.at, entry.id`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'tags',
      title: 'Tags',
      what: 'A care record that was issued; the signed words are in the whole farm.',
    },
    `SELECT site.name AS site, tag.id AS tag, lot.code AS lot, lot.own_code AS "own code", kind.name AS kind, tag.pieces, tag.issued_at AS "issued at",
            account.name AS "issued by", tag.reason, tag.withdrawn_at AS "withdrawn at", tag.withdrawn_reason AS "why withdrawn"
       FROM tag JOIN lot ON lot.id = tag.lot_id JOIN kind ON kind.id = lot.kind_id JOIN site ON site.id = lot.site_id
       LEFT JOIN account ON account.id = tag.account_id WHERE site.id = $1 ORDER BY tag.issued_at, tag.id`,
  ),
  sqlList(
    {
      access: 'owner',
      closedToKeys: true,
      slug: 'people',
      title: 'People',
      what: 'Somebody with an account; no password and no PIN.',
    },
    `SELECT account.name, account.email AS "e-mail", coalesce(here.role, account.role)::text AS role, account.password_hash IS NOT NULL AS "has a password",
            account.pin_hash IS NOT NULL AS "has a PIN", account.created_at AS "added at", account.disabled_at AS "switched off at"
       FROM account LEFT JOIN site_person AS here ON here.account_id = account.id AND here.site_id = $1
      WHERE here.site_id IS NOT NULL OR NOT EXISTS (SELECT FROM site_person WHERE account_id = account.id) ORDER BY account.name, account.id`,
  ),
];

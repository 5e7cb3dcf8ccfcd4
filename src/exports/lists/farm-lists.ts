import { things } from '../../farm/switched-off/things.rules.ts';
import { timesInForce } from '../../farm/switched-off/times.ts';
import type { CsvCell } from '../../platform/csv.ts';
import { whoDid } from '../../platform/database/who-did.ts';
import type { Ask, ExportedList } from './list.ts';
import { sqlList } from './sql-list.ts';
import { columnTypes, workedOutList } from './worked-out-list.ts';

const reader = { access: 'reader' } as const;

const offTimeHeads = ['what', 'due back after (min)', 'late after (min)', 'set by', 'reason'];

async function* offTimeRows({ service }: Ask): AsyncGenerator<CsvCell[][]> {
  yield [offTimeHeads];
  yield (await timesInForce(service.pool)).map(({ thing, dueMin, lateMin, reason }) => [
    ...[things[thing].name, dueMin, lateMin],
    ...[reason === null ? 'the service' : 'the farm', reason],
  ]);
}

/** What the farm is built of. */
export const farmLists: ExportedList[] = [
  sqlList(
    { ...reader, slug: 'systems', title: 'Systems', what: 'A body of shared water.' },
    `SELECT site.name AS site, system.name AS system, system.volume_l AS "volume (L)", kind.name AS "mostly for",
            (SELECT count(*)::int FROM tank WHERE system_id = system.id) AS tanks, system.note, system.created_at AS "added at",
            system.undosed_since AS "nothing dosed since", system.unchanged_since AS "no water changed since",
            system.retired_at AS "out of service since"
       FROM system JOIN site ON site.id = system.site_id LEFT JOIN kind ON kind.id = system.stock_kind_id
      WHERE site.id = $1 ORDER BY system.position, system.name`,
  ),
  sqlList(
    { ...reader, slug: 'tanks', title: 'Tanks', what: 'A vessel of a system, measured inside.' },
    `SELECT site.name AS site, system.name AS system, tank.name AS tank, tank.length_mm AS "length (mm)", tank.width_mm AS "width (mm)",
            tank.height_mm AS "height (mm)", tank.quarantine, (SELECT count(*)::int FROM rack WHERE tank_id = tank.id) AS racks, tank.note
       FROM tank JOIN system ON system.id = tank.system_id JOIN site ON site.id = system.site_id
      WHERE site.id = $1 ORDER BY system.position, system.name, tank.position, tank.name`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'lamps',
      title: 'Lamps',
      what: 'A setting of lamps, from when on; lamps never set have one row.',
    },
    `SELECT site.name AS site, system.name AS system, tank.name AS tank, lamp.name AS lamps, lamp.model, lamp.height_mm AS "height above water (mm)",
            setting.at AS "set at", setting.percent AS "setting (per cent)", coalesce(setting.lit_hours, lamp.lit_hours) AS "lit (hours)",
            coalesce(setting.ramp_hours, lamp.ramp_hours) AS "ramps (hours)", setting.note, account.name AS by
       FROM lamp JOIN tank ON tank.id = lamp.tank_id JOIN system ON system.id = tank.system_id JOIN site ON site.id = system.site_id
       LEFT JOIN lamp_setting AS setting ON setting.lamp_id = lamp.id LEFT JOIN account ON account.id = setting.account_id
      WHERE site.id = $1 ORDER BY system.position, system.name, tank.position, tank.name, lamp.name, setting.at`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'light-surveys',
      title: 'Light surveys',
      what: 'The light at one slot as it was measured.',
    },
    `SELECT site.name AS site, system.name AS system, tank.name AS tank, rack.name AS rack, chr(64 + slot.row) || slot."column" AS slot,
            survey.measured_at AS "measured at", point.raw AS "as shown (umol/(m2 s))", point.par AS "corrected (umol/(m2 s))", survey.meter,
            survey.immersion_factor AS "immersion factor", survey.factor_in_meter AS "factor in the meter", survey.lamp_percent AS "lamps (per cent)",
            survey.note, account.name AS by, survey.voided_at AS "voided at", survey.void_reason AS "why voided"
       FROM light_survey_point AS point JOIN light_survey AS survey ON survey.id = point.survey_id JOIN slot ON slot.id = point.slot_id
       JOIN rack ON rack.id = survey.rack_id JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
       JOIN site ON site.id = system.site_id LEFT JOIN account ON account.id = survey.account_id
      WHERE site.id = $1 ORDER BY survey.measured_at, survey.id, slot.row, slot."column"`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'equipment',
      title: 'Equipment',
      what: 'A device: where it is, what it holds, when it was serviced last.',
    },
    `SELECT site.name AS site, system.name AS system, tank.name AS tank, circuit.name AS circuit, device.name AS device,
            replace(device.kind::text, '_', ' ') AS kind, whole.name AS "part of", device.runs, device.setpoint, device.setpoint_unit AS "unit of the setpoint",
            device.reservoir_l AS "container (L)", device.use_l_per_day AS "used a day (L)", device.filled_at AS "filled at",
            device.holds, device.service_every_days AS "service every (days)",
            (SELECT max(at) FROM upkeep WHERE equipment_id = device.id AND work = 'service') AS "last service",
            device.seen_running_at AS "seen running at", device.note, device.removed_at AS "removed at"
       FROM equipment AS device JOIN system ON system.id = device.system_id JOIN site ON site.id = system.site_id
       LEFT JOIN tank ON tank.id = device.tank_id LEFT JOIN circuit ON circuit.id = device.circuit_id
       LEFT JOIN equipment AS whole ON whole.id = device.part_of_id
      WHERE site.id = $1 ORDER BY system.position, system.name, device.kind, device.name`,
  ),
  sqlList(
    { ...reader, slug: 'circuits', title: 'Circuits', what: 'A breaker, and what protects it.' },
    `SELECT site.name AS site, circuit.name AS circuit, circuit.place, circuit.protection, circuit.test_every_days AS "test every (days)",
            (SELECT max(at) FROM upkeep WHERE circuit_id = circuit.id) AS "last test", circuit.note, circuit.removed_at AS "removed at"
       FROM circuit JOIN site ON site.id = circuit.site_id WHERE site.id = $1 ORDER BY circuit.name`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'services',
      title: 'Services and tests of equipment',
      what: 'A service or test that was done. “Doses and more from a file” reads it.',
    },
    `SELECT done.at, system.name AS system, site.name AS site, coalesce(device.name, circuit.name) AS device, done.work::text AS work,
            ${whoDid('done', 'done_by')} AS by, done.note
       FROM upkeep AS done LEFT JOIN equipment AS device ON device.id = done.equipment_id LEFT JOIN system ON system.id = device.system_id
       LEFT JOIN circuit ON circuit.id = done.circuit_id JOIN site ON site.id = coalesce(system.site_id, circuit.site_id)
       LEFT JOIN account ON account.id = done.account_id WHERE site.id = $1 ORDER BY done.at, done.id`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'faults',
      title: 'Faults',
      what: 'Something wrong with equipment, as it was seen and repaired.',
    },
    `SELECT site.name AS site, system.name AS system, device.name AS device, fault.seen, fault.noted_at AS "noted at", account.name AS by,
            fault.mended_at AS "repaired at", fault.mended AS "what was done"
       FROM fault JOIN system ON system.id = fault.system_id JOIN site ON site.id = system.site_id
       LEFT JOIN equipment AS device ON device.id = fault.equipment_id LEFT JOIN account ON account.id = fault.account_id
      WHERE site.id = $1 ORDER BY fault.noted_at, fault.id`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'switched-off',
      title: 'Switched off',
      what: 'Something that was switched off, from when until it was seen running.',
    },
    `SELECT site.name AS site, system.name AS system, tank.name AS tank, off.what, off.why, off.off_at AS "off at", off.due_at AS "due back at",
            off.late_at AS "late from", account.name AS "switched off by", off.seen_running_at AS "seen running at", seen.name AS "seen by", off.seen,
            off.voided_at AS "voided at", off.void_reason AS "why voided"
       FROM switched_off AS off JOIN system ON system.id = off.system_id JOIN site ON site.id = system.site_id LEFT JOIN tank ON tank.id = off.tank_id
       LEFT JOIN account ON account.id = off.account_id LEFT JOIN account AS seen ON seen.id = off.seen_running_by_id
      WHERE site.id = $1 ORDER BY off.off_at, off.id`,
  ),
  workedOutList(
    {
      ...reader,
      slug: 'off-times',
      title: 'How long things may be off',
      what: 'A kind of thing, and after how many minutes it is due back and late.',
    },
    columnTypes(offTimeHeads, { numbers: offTimeHeads.slice(1, 3) }),
    offTimeRows,
  ),
  sqlList(
    {
      ...reader,
      slug: 'events',
      title: 'Events',
      what: 'Something after which a system’s water is used otherwise.',
    },
    `SELECT site.name AS site, system.name AS system, replace(event.kind::text, '_', ' ') AS event, event.at, event.note, account.name AS by,
            event.voided_at AS "voided at", event.void_reason AS "why voided"
       FROM system_event AS event JOIN system ON system.id = event.system_id JOIN site ON site.id = system.site_id
       LEFT JOIN account ON account.id = event.account_id WHERE site.id = $1 ORDER BY event.at, event.id`,
  ),
  sqlList(
    { ...reader, slug: 'contacts', title: 'Whom to call', what: 'Somebody to call when something is wrong.' },
    `SELECT site.name AS site, replace(contact.role::text, '_', ' ') AS role, contact.name, contact.number, contact.email, contact.on_call AS "on call",
            contact.tested_on::text AS "number tried on", contact.note, contact.removed_at AS "removed at"
       FROM contact JOIN site ON site.id = contact.site_id WHERE site.id = $1 ORDER BY contact.role, contact.name`,
  ),
];

import type { Work } from '../platform/change.ts';
import { constraintOf } from '../platform/constraints.ts';
import type { SqlReader } from '../platform/database/sql-reader.ts';
import { readerOf } from '../platform/database/sql-reader.ts';
import { notFound, Refusal } from '../platform/refusal.ts';
import type { Standing } from '../platform/seen.ts';
import { capitalized } from '../platform/words/capitals.ts';
import { type NamedSubject, namesOf, subjects } from './subjects.ts';

/** What was entered by mistake can be removed while nothing else uses it. */
export interface Removable {
  /** "this rack" */
  words: string;
  /** Rows that go with it: they say how it is, not what happened at it. */
  parts: readonly string[];
  /** What to do where something uses it. */
  otherwise: string;
}

/** Nouns that can be removed, by the name of their table. */
export const removables = {
  system: {
    words: 'this system',
    parts: ['system_quantity'],
    otherwise: 'Take it out of service on its page: it then takes no entries, and its past stays.',
  },
  tank: {
    words: 'this tank',
    parts: ['tank_place'],
    otherwise: 'Move or remove what is in it first. What happened in it stays.',
  },
  rack: {
    words: 'this rack',
    parts: ['slot', 'rack_stand'],
    otherwise: 'A rack that held lots is kept with their past. Change its name, tank or size on its page.',
  },
  room: {
    words: 'this room',
    parts: ['tank_place'],
    otherwise: 'Change its name on its page.',
  },
  lamp: {
    words: 'these lamps',
    parts: ['lamp_setting', 'equipment'],
    otherwise:
      'Lamps under which racks hung are kept with the light of that time. Untick their racks, or take back a setting.',
  },
  equipment: {
    words: 'this equipment',
    parts: [],
    otherwise: 'Say on its page that it was removed: its services and faults then stay.',
  },
  circuit: {
    words: 'this circuit',
    parts: [],
    otherwise: 'Say on its page that it was removed: its tests then stay.',
  },
  contact: { words: 'this contact', parts: [], otherwise: 'Say on its page that it was removed.' },
  kit: {
    words: 'this kit',
    parts: [],
    otherwise: 'Readings made with it keep it. Retire it on its page, or correct those readings first.',
  },
  method: {
    words: 'this method',
    parts: [],
    otherwise: 'Kits and readings keep it. Correct its figures on its page.',
  },
  routine: { words: 'this routine', parts: [], otherwise: 'End it on its page: what was done stays.' },
  round_plan: {
    words: 'this round plan',
    parts: ['round_plan_tank', 'round_plan_day'],
    otherwise: 'Rounds were walked by it and keep it. Change it on its page, or pause it.',
  },
  account: {
    words: 'this person',
    parts: ['tablet_person', 'site_person', 'account_link'],
    otherwise: 'What a person did keeps the name. Take the account out of use on its page.',
  },
} as const satisfies Readonly<Record<string, Removable>>;

export type RemovableNoun = keyof typeof removables;

export const isRemovable = (noun: string): noun is RemovableNoun => Object.hasOwn(removables, noun);

/** Rows of one kind that use something. */
export interface Use {
  /** "Lots" */
  many: string;
  rows: number;
  /** Up to five of them, with their pages, one of each name. */
  some: NamedSubject[];
}

interface UseRow {
  noun: string;
  id: string | null;
  rows: string;
}

/** Words for rows that are no subject of the journal. */
const otherWords: Readonly<Record<string, string>> = {
  placement_slot: 'Places where lots are or were',
  light_survey: 'Light surveys',
  light_survey_point: 'Readings of light surveys',
  probe_name: 'Names of probes',
  probe_doubt: 'Doubts about probes',
  emergency_system: 'Records of trouble',
  upkeep: 'Services and tests',
  rack_stand: 'How racks were mounted',
  lamp_setting: 'Settings of lamps',
  attached_file: 'Files',
  tablet: 'Tablets',
  journal_line: 'Lines in the journal',
  condition: 'Looks at lots',
  account_link: 'Links sent by mail',
  session: 'Sign-ins',
  kept_form: 'Forms kept after a sign-in ended',
  undoable_change: 'Changes that can be undone',
  undoable_row: 'Rows of changes that can be undone',
  not_for_us: 'Things said not to apply here',
  site_person: 'Who works at which site',
  tablet_person: 'Who uses which tablet',
  system_quantity: 'Target bands',
  tank_place: 'Where tanks are in a room',
  container_level: 'Levels of containers',
  off_time: 'How long things may be off',
  look: 'Looks at tanks',
  slot: 'Slots',
  slot_light: 'Light at slots',
  care_figure: 'Care figures',
  identification: 'Identifications',
  ledger_entry: 'Changes of counts',
  cut: 'Cuts',
  healing_look: 'Counts after cuts',
  size_measurement: 'Sizes',
  placement: 'Places of lots',
  pest_watch: 'Waters under watch for a pest',
  pest_sighting: 'Pests seen',
  pest_look: 'Looks for a pest',
  pest_treatment: 'Treatments',
  pest_treatment_lot: 'Lots treated',
  kept_apart_reason: 'Lots kept apart',
  quarantine: 'Quarantines',
  acclimation_lot: 'Lots in acclimations',
  acclimation_step: 'Steps of acclimations',
  planned_move: 'Planned moves',
  photo: 'Photos',
  rack_photograph: 'Photographs of racks',
  rack_photograph_lot: 'Lots in photographs of racks',
  delivery_line: 'Lots of deliveries',
  hold: 'Holds',
  sale: 'Sales',
  order_line: 'Lots of orders',
  order_stage_change: 'Stages of orders',
  shipment: 'Boxes',
  permit_line: 'Permit lines',
  reading_pack: 'Days of probes',
  reading_rollup: 'Figures of probes',
  doser_plan: 'Plans of dosers',
  doser_calibration: 'Calibrations of dosers',
  correction_step: 'Steps of corrections',
  lot_name: 'Names of lots',
  emergency_entry: 'Notes on trouble',
  rule_setting: 'Limits changed here',
  alert_event: 'What happened to alerts',
  limit_trial: 'Trials of limits',
  round_plan_day: 'Changed days of round plans',
  round_plan_tank: 'Round plans that pass it',
  stocktake_line: 'Lines of stocktakes',
  stocktake_count: 'Counts of stocktakes',
};

const wordsOf = (noun: string): string =>
  Object.hasOwn(subjects, noun)
    ? subjects[noun as keyof typeof subjects].many
    : (otherWords[noun] ?? capitalized(noun).replaceAll('_', ' '));

/** One of each name: five links of one name lead a reader nowhere. */
const distinct = (some: readonly NamedSubject[]): NamedSubject[] =>
  some.filter(({ name }, i) => some.findIndex((one) => one.name === name) === i);

/** Everything that uses a thing, by kind. Two queries. */
export async function usesOf(sql: SqlReader, noun: RemovableNoun, id: string): Promise<Use[]> {
  const { rows } = await sql.query<UseRow>('SELECT noun, id, rows FROM what_rests_on($1, $2::uuid, $3)', [
    noun,
    id,
    [...removables[noun].parts],
  ]);
  const names = await namesOf(
    sql,
    rows.map((row) => row.id).filter((one) => one !== null),
  );
  return [...Map.groupBy(rows, (row) => row.noun)].map(([kind, of]) => ({
    many: wordsOf(kind),
    rows: Number(of[0]?.rows ?? 0),
    some: distinct(of.map((row) => names.get(row.id ?? '')).filter((one) => one !== undefined)),
  }));
}

/** The thing by name and page. @throws Refusal 404 */
export async function findRemovable(sql: SqlReader, noun: RemovableNoun, id: string): Promise<NamedSubject> {
  const found = (await namesOf(sql, [id])).get(id);
  if (found === undefined || found.type !== noun) throw notFound('This record');
  return found;
}

/** What a removal is decided from: the thing as the last line of the journal left it. */
export const removableStanding = (noun: RemovableNoun, id: string): Standing => ({
  what: removables[noun].words,
  read: ({ journalLine }) =>
    journalLine.findFirst({
      where: { subjectType: noun, subjectId: id },
      orderBy: { id: 'desc' },
      select: { id: true },
    }),
});

/**
 * Removes something that was entered by mistake; the journal keeps what it was and why it went.
 * @throws Refusal 404; 409 where something uses it
 */
export async function removeThing(
  work: Work,
  noun: RemovableNoun,
  id: string,
  reason: string,
): Promise<string> {
  const sql = readerOf(work.tx);
  const { name } = await findRemovable(sql, noun, id);
  if ((await usesOf(sql, noun, id)).length > 0) throw isUsed(noun);
  const parts = [...removables[noun].parts];
  try {
    await work.tx.$queryRaw`SELECT remove_thing(${noun}, ${id}::uuid, ${parts}::text[])::text`;
  } catch (error) {
    if (constraintOf(error) === null) throw error;
    throw isUsed(noun);
  }
  work.record('record.removed', { type: noun, id }, { what: name, reason });
  return name;
}

const isUsed = (noun: RemovableNoun): Refusal =>
  new Refusal(`Other records use it, so it is kept. ${removables[noun].otherwise}`, { status: 409 });

import { uuidv7 } from 'uuidv7';
import type { Work } from '../../platform/change.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { packedAfterDays } from '../probe-days/packing.ts';

/** What all values that an instrument reports in one unit have alike. */
export interface ReportingInstrument {
  name: string;
  systemId: string;
  quantityCode: string;
  methodId: string;
  kitId: string;
  enteredUnit: string;
}

/** One value that an instrument reported. `value` and `uncertainty` canonical. */
export interface ProbeReport {
  /** One object for all values of it: what it says is told the database once and not with each. */
  instrument: ReportingInstrument;
  /** Unix time in whole ms. */
  at: number;
  value: number;
  uncertainty: number;
  enteredText: string;
  /** What is to be known of it; empty mostly. */
  note: string;
}

/** The first report of each instrument and time, to the millisecond as the database keeps it. */
function firstOfEach(reports: readonly ProbeReport[]): ProbeReport[] {
  const known = new Map<string, Set<number>>();
  return reports.filter(({ instrument: { kitId }, at }) => {
    const times = known.get(kitId) ?? new Set();
    if (times.size === 0) known.set(kitId, times);
    return times.size < times.add(at).size;
  });
}

/** The instruments of some reports, and which of them each is of, from 1. */
function instrumentsOf(reports: readonly ProbeReport[]) {
  const places = new Map<ReportingInstrument, number>();
  const placeOf = ({ instrument }: ProbeReport): number => {
    const place = places.get(instrument) ?? places.size + 1;
    places.set(instrument, place);
    return place;
  };
  const placed = reports.map(placeOf);
  return { all: [...places.keys()], places: placed };
}

// A list goes to the database as one text: handed over value by value, most of a pack's time goes into what the driver does
// with each.
const numbers = (some: readonly (number | string)[]) => `{${some.join(',')}}`;
const quoted = (text: string) => `"${/["\\]/.test(text) ? text.replace(/["\\]/g, '\\$&') : text}"`;
const texts = (some: readonly string[]) => `{${some.map(quoted).join(',')}}`;

/**
 * Saves what instruments report by themselves: one value for each instrument and time, the first that came. Single values
 * of a probe are not judged: rules look at all of them together.
 * @returns those that were new
 */
export async function saveProbeReports(
  work: Work,
  reports: readonly ProbeReport[],
): Promise<readonly ProbeReport[]> {
  if (reports.length === 0) return [];
  const rows = firstOfEach(reports);
  const ids = rows.map(() => uuidv7());
  const saved = await insertReports(work, rows, ids);
  for (const systemId of new Set(reports.map(({ instrument }) => instrument.systemId)))
    work.reevaluate(systemId);
  if (saved === rows.length) return rows;
  const found = await work.tx.$queryRaw<{ id: string }[]>`
    SELECT id FROM reading WHERE id = ANY(${numbers(ids)}::uuid[])`;
  const isSaved = new Set(found.map(({ id }) => id));
  return rows.filter((_, i) => isSaved.has(ids[i] ?? ''));
}

/** @returns how many were not there yet */
async function insertReports(work: Work, rows: readonly ProbeReport[], ids: string[]): Promise<number> {
  const { all, places } = instrumentsOf(rows);
  const of = <T>(told: (report: ProbeReport) => T) => rows.map(told);
  const each = (told: (instrument: ReportingInstrument) => string) => texts(all.map(told));
  const notes = rows.some(({ note }) => note !== '') ? texts(of(({ note }) => note)) : '{}';
  // Of days that may be packed: what lies in a pack is there already. A day more, since a day ends late in some time zones.
  const old = daysBefore(work.now, packedAfterDays - 1);
  // OFFSET has what is there already looked up by kit and time, value by value. As a join it goes through all that the system
  // holds of the quantity, for each value, where the planner counts on fewer than there are by now, or a plan is kept from then.
  return work.tx.$executeRaw`
    INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, uncertainty, entered_text, entered_unit, note,
                         account_id, access_key_id, created_at)
    SELECT report.id, system_id, quantity_code, method_id, kit_id, report.at, report.value, report.uncertainty, entered_text, entered_unit, coalesce(report.note, ''),
           ${work.accountId}::uuid, ${work.accessKeyId}::uuid, ${work.now}
      FROM (SELECT id, place, (timestamptz 'epoch' + ms * interval '1 millisecond')::timestamptz(3) AS at, value, uncertainty, entered_text, note
              FROM unnest(${numbers(ids)}::uuid[], ${numbers(places)}::int[], ${numbers(of(({ at }) => at))}::bigint[], ${numbers(of(({ value }) => value))}::float8[],
                          ${numbers(of(({ uncertainty }) => uncertainty))}::float8[], ${texts(of(({ enteredText }) => enteredText))}::text[], ${notes}::text[])
                     AS value(id, place, ms, value, uncertainty, entered_text, note)) AS report
      JOIN unnest(${each(({ systemId }) => systemId)}::uuid[], ${each(({ quantityCode }) => quantityCode)}::text[],
                  ${each(({ methodId }) => methodId)}::uuid[], ${each(({ kitId }) => kitId)}::uuid[], ${each(({ enteredUnit }) => enteredUnit)}::text[])
             WITH ORDINALITY AS instrument(system_id, quantity_code, method_id, kit_id, entered_unit, place) ON instrument.place = report.place
     WHERE NOT EXISTS (SELECT 1 FROM reading AS there
                        WHERE there.kit_id = instrument.kit_id AND there.system_id = instrument.system_id
                          AND there.quantity_code = instrument.quantity_code AND there.at = report.at OFFSET 0)
       AND NOT (report.at < ${old} AND EXISTS (SELECT 1 FROM reading_pack AS pack
                        WHERE pack.system_id = instrument.system_id AND pack.quantity_code = instrument.quantity_code AND pack.kit_id = instrument.kit_id
                          AND pack.until_at > report.at AND pack.from_at <= report.at AND pack.until_at <= report.at + interval '26 hours'
                          AND (extract(epoch FROM report.at - pack.from_at) * 1000)::int = ANY(pack.times) OFFSET 0))`;
}

import { uuidv7 } from 'uuidv7';
import type { Work } from '../../platform/change.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { packedAfterDays } from '../probe-days/packing.ts';

/** One value that an instrument reported. `value` and `uncertainty` canonical. */
export interface ProbeReport {
  name: string;
  systemId: string;
  quantityCode: string;
  methodId: string;
  kitId: string;
  at: Date;
  value: number;
  uncertainty: number;
  enteredText: string;
  enteredUnit: string;
  /** What is to be known of it; empty mostly. */
  note: string;
}

/** The first report of each instrument and time, to the millisecond as the database keeps it. */
function firstOfEach(reports: readonly ProbeReport[]): ProbeReport[] {
  const first = new Map<string, ProbeReport>();
  for (const report of reports) {
    const key = `${report.kitId} ${report.at.getTime()}`;
    if (!first.has(key)) first.set(key, report);
  }
  return [...first.values()];
}

/** What all values of one instrument have alike: told once and not with each of them. */
function instrumentsOf(reports: readonly ProbeReport[]) {
  const known = new Map<string, number>();
  const all: ProbeReport[] = [];
  const placeOf = (report: ProbeReport): number => {
    const { systemId, quantityCode, methodId, kitId, enteredUnit } = report;
    const key = [systemId, quantityCode, methodId, kitId, enteredUnit].join(' ');
    const place = known.get(key) ?? all.push(report);
    known.set(key, place);
    return place;
  };
  return { all, places: reports.map(placeOf) };
}

/**
 * Saves what instruments report by themselves: one value for each instrument and time, the first that came. Single values
 * of a probe are not judged: rules look at all of them together.
 * @returns those that were new
 */
export async function saveProbeReports(work: Work, reports: readonly ProbeReport[]): Promise<ProbeReport[]> {
  if (reports.length === 0) return [];
  const rows = firstOfEach(reports);
  const ids = rows.map(() => uuidv7());
  const { all, places } = instrumentsOf(rows);
  const of = <T>(told: (report: ProbeReport) => T, some: readonly ProbeReport[] = rows) => some.map(told);
  // Of days that may be packed: what lies in a pack is there already. A day more, since a day ends late in some time zones.
  const old = daysBefore(work.now, packedAfterDays - 1);
  // OFFSET has what is there already looked up by kit and time, value by value. As a join it goes through all that the system
  // holds of the quantity, for each value, where the planner counts on fewer than there are by now, or a plan is kept from then.
  const saved = await work.tx.$queryRaw<{ id: string }[]>`
    INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, uncertainty, entered_text, entered_unit, note,
                         account_id, access_key_id, created_at)
    SELECT report.id, system_id, quantity_code, method_id, kit_id, report.at, report.value, report.uncertainty, entered_text, entered_unit, report.note,
           ${work.accountId}::uuid, ${work.accessKeyId}::uuid, ${work.now}
      FROM unnest(${ids}::uuid[], ${places}::int[], ${of(({ at }) => at.toISOString())}::timestamptz[], ${of(({ value }) => value)}::float8[],
                  ${of(({ uncertainty }) => uncertainty)}::float8[], ${of(({ enteredText }) => enteredText)}::text[], ${of(({ note }) => note)}::text[], ${of(({ at }) => at < old)}::boolean[])
             AS report(id, place, at, value, uncertainty, entered_text, note, is_old)
      JOIN unnest(${of(({ systemId }) => systemId, all)}::uuid[], ${of(({ quantityCode }) => quantityCode, all)}::text[],
                  ${of(({ methodId }) => methodId, all)}::uuid[], ${of(({ kitId }) => kitId, all)}::uuid[], ${of(({ enteredUnit }) => enteredUnit, all)}::text[])
             WITH ORDINALITY AS instrument(system_id, quantity_code, method_id, kit_id, entered_unit, place) ON instrument.place = report.place
     WHERE NOT EXISTS (SELECT 1 FROM reading AS there
                        WHERE there.kit_id = instrument.kit_id AND there.system_id = instrument.system_id
                          AND there.quantity_code = instrument.quantity_code AND there.at = report.at OFFSET 0)
       AND NOT (report.is_old AND EXISTS (SELECT 1 FROM reading_pack AS pack
                        WHERE pack.system_id = instrument.system_id AND pack.quantity_code = instrument.quantity_code AND pack.kit_id = instrument.kit_id
                          AND pack.until_at > report.at AND pack.from_at <= report.at AND pack.until_at <= report.at + interval '26 hours'
                          AND (extract(epoch FROM report.at - pack.from_at) * 1000)::int = ANY(pack.times) OFFSET 0))
    RETURNING id`;
  for (const systemId of new Set(reports.map((report) => report.systemId))) work.reevaluate(systemId);
  const isSaved = new Set(saved.map(({ id }) => id));
  return rows.filter((_, i) => isSaved.has(ids[i] ?? ''));
}

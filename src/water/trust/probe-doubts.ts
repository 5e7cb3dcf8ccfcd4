import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { Tx } from '../../platform/service.ts';
import { whenWords } from '../../platform/words/times.ts';
import { dateAtDay } from '../../science/numeric/time.ts';
import type { ProbeDoubt, ProbeTrace } from './probe-doubt.rules.ts';

/** A probe whose values of one quantity in one system count for nothing until it is checked. */
export interface KeptProbeDoubt {
  systemId: string;
  quantityCode: string;
  label: string;
  since: Date;
  /** Why, to go on after its name. */
  words: string;
}

/** A probe as it was judged last: why it has no vote, or that it has one again. */
export interface JudgedProbe extends Pick<ProbeTrace, 'code' | 'methodId' | 'kitId' | 'label'> {
  doubt: ProbeDoubt | null;
}

/**
 * Keeps which of a system's probes have no vote, and from when: whatever shows readings leaves theirs out by the view
 * `reading_with_vote`. What a probe that says nothing any more showed stays doubted. At most two statements.
 */
export async function keepProbeDoubts(
  tx: Tx,
  systemId: string,
  probes: readonly JudgedProbe[],
): Promise<void> {
  if (probes.length === 0) return;
  const judged = JSON.stringify(
    probes.map(({ code, methodId, kitId, label, doubt }) => ({
      code,
      methodId,
      kitId,
      label,
      words: doubt?.words ?? null,
      since: doubt === null ? null : dateAtDay(doubt.sinceDay),
    })),
  );
  await tx.$executeRaw`
    DELETE FROM probe_doubt USING jsonb_to_recordset(${judged}::jsonb)
        AS judged(code text, "methodId" uuid, "kitId" uuid, since timestamptz)
     WHERE system_id = ${systemId}::uuid AND quantity_code = judged.code AND method_id = judged."methodId"
       AND kit_id IS NOT DISTINCT FROM judged."kitId" AND judged.since IS NULL`;
  if (probes.every(({ doubt }) => doubt === null)) return;
  await tx.$executeRaw`
    INSERT INTO probe_doubt (id, system_id, quantity_code, method_id, kit_id, label, since, words)
    SELECT gen_random_uuid(), ${systemId}::uuid, code, "methodId", "kitId", label, since, words
      FROM jsonb_to_recordset(${judged}::jsonb)
        AS judged(code text, "methodId" uuid, "kitId" uuid, label text, since timestamptz, words text)
     WHERE since IS NOT NULL
        ON CONFLICT (system_id, quantity_code, method_id, kit_id) DO UPDATE SET label = excluded.label, since = excluded.since, words = excluded.words
     WHERE (probe_doubt.label, probe_doubt.since, probe_doubt.words) IS DISTINCT FROM (excluded.label, excluded.since, excluded.words)`;
}

/** The probes in use in these systems that have no vote, by what they are called. One query. */
export async function probeDoubtsOf(
  reader: SqlReader,
  systemIds: readonly string[],
): Promise<KeptProbeDoubt[]> {
  const { rows } = await reader.query<KeptProbeDoubt & Record<string, unknown>>(
    `SELECT system_id AS "systemId", quantity_code AS "quantityCode", probe_doubt.label, since, words
       FROM probe_doubt LEFT JOIN kit ON kit.id = kit_id
      WHERE system_id = ANY($1::uuid[]) AND kit.retired_at IS NULL ORDER BY probe_doubt.label, quantity_code`,
    [systemIds],
  );
  return rows;
}

/** "Probe not trusted since 16 Nov 2026, 08:00: pH probe has shown 8.41 for 62 h"; '' for none. */
export const untrustedWords = (
  doubts: readonly Pick<KeptProbeDoubt, 'label' | 'since' | 'words'>[],
  timeZone: string,
  now: Date,
): string =>
  doubts
    .map(
      ({ label, since, words }) =>
        `Probe not trusted since ${whenWords(since, timeZone, now)}: ${label} ${words}. It counts for nothing until it is checked.`,
    )
    .join(' ');

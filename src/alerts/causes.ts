import type pg from 'pg';
import { causesOf, type Linked } from './causes.rules.ts';
import type { FindingKey, SubjectType } from './finding.ts';

interface Row {
  id: string;
  rule: string;
  type: SubjectType;
  subjectId: string;
  facet: string;
  causes: FindingKey[];
  causeId: string | null;
  quiet: boolean;
}

const query = `
  SELECT id, rule, subject_type AS type, subject_id AS "subjectId", facet, coalesce(finding -> 'causes', '[]') AS causes,
         cause_id AS "causeId", quiet_since IS NOT NULL AS quiet
    FROM alert WHERE cleared_at IS NULL`;

/** Groups all open alerts under what explains them. Two statements, whatever their number. */
export async function linkCauses(pool: pg.Pool): Promise<void> {
  const { rows } = await pool.query<Row>(query);
  const alerts: Linked[] = rows.map(({ id, rule, type, subjectId, facet, causes, causeId, quiet }) => ({
    id,
    key: { rule, subject: { type, id: subjectId }, facet },
    causes,
    causeId,
    quiet,
  }));
  const causes = causesOf(alerts);
  const changed = alerts.filter(({ id, causeId }) => (causes.get(id) ?? null) !== causeId);
  if (changed.length === 0) return;
  await pool.query(
    `UPDATE alert SET cause_id = said.cause_id FROM unnest($1::uuid[], $2::uuid[]) AS said(id, cause_id)
      WHERE alert.id = said.id AND alert.cleared_at IS NULL`,
    [changed.map(({ id }) => id), changed.map(({ id }) => causes.get(id) ?? null)],
  );
}

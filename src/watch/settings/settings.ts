import type pg from 'pg';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Standing } from '../../platform/seen.ts';
import type { Rule } from '../rule-definition/rule.ts';
import { FarmSettings, readSettings, type SettingRow } from './settings.rules.ts';

const query = `
  SELECT rule_setting.rule, rule_setting.system_id AS "systemId", rule_setting.kind_id AS "kindId", rule_setting.settings,
         rule_setting.reason, rule_setting.at, account.name AS who, coalesce(system.name, kind.name) AS "scopeName"
    FROM rule_setting
    LEFT JOIN account ON account.id = rule_setting.account_id
    LEFT JOIN system ON system.id = rule_setting.system_id
    LEFT JOIN kind ON kind.id = rule_setting.kind_id
   WHERE $1::uuid IS NULL OR system.id IS NULL OR system.site_id = $1
   ORDER BY rule_setting.at`;

/** All that the farm has set of the rules; with a site, without what holds in systems of others alone. One query. */
export async function loadSettings(pool: pg.Pool, siteId: string | null = null): Promise<FarmSettings> {
  return new FarmSettings((await pool.query<SettingRow>(query, [siteId])).rows);
}

/** What setting a limit writes over: what it is set to for the farm, for systems and for kinds. */
export const limitStanding = (rule: Rule, name: string): Standing => ({
  what: `this limit (${rule.parameters[name]?.label ?? name})`,
  read: async ({ ruleSetting }) => {
    const rows = await ruleSetting.findMany({ where: { rule: rule.name }, orderBy: { id: 'asc' } });
    return rows.flatMap((row) => {
      const value = readSettings(rule, row)[name];
      return value === undefined ? [] : [[row.systemId, row.kindId, value]];
    });
  },
});

/** What to set of a rule, and where. `value` null: back to what holds without it. */
export interface SettingChange {
  rule: Rule;
  name: string;
  value: number | null;
  systemId: string | null;
  kindId: string | null;
  reason: string;
}

/**
 * Sets one number of a rule for the farm, one system or one kind, and has the rules evaluated where it holds.
 * @throws Refusal for a system or kind that is not there, or a rule that is not set by kind
 */
export async function setLimit(work: Work, change: SettingChange): Promise<void> {
  const { rule, name, value, systemId, kindId, reason } = change;
  const scope = await findScope(work, change);
  const where = { rule: rule.name, systemId, kindId };
  // Two numbers of one rule that are set at once are both kept.
  await work.tx.$executeRaw`SELECT pg_advisory_xact_lock(hashtextextended(${`limit ${rule.name}`}, 0))`;
  const before = await work.tx.ruleSetting.findFirst({ where });
  const kept = before === null ? {} : readSettings(rule, before);
  const { [name]: old = null, ...others } = kept;
  const settings = value === null ? others : { ...others, [name]: value };
  const data = { settings, reason, accountId: work.accountId, at: work.now };
  if (before === null) await work.tx.ruleSetting.create({ data: { ...where, ...data } });
  else await work.tx.ruleSetting.update({ where: { id: before.id }, data });
  work.record('limit.set', scope.subject, {
    rule: rule.name,
    name,
    from: old,
    to: value,
    reason,
    for: scope.name,
  });
  for (const id of scope.systems) work.reevaluate(id);
}

/**
 * What a limit is set for, its name, and the systems in which it holds.
 * @throws Refusal for a system or kind that is not there, or a rule that is not set by kind
 */
export async function findScope(
  work: Work,
  { rule, systemId, kindId }: Pick<SettingChange, 'rule' | 'systemId' | 'kindId'>,
) {
  const all = await work.tx.system.findMany({ where: { retiredAt: null }, select: { id: true, name: true } });
  const everywhere = all.map(({ id }) => id);
  if (systemId !== null) {
    const system = all.find(({ id }) => id === systemId);
    if (system === undefined) throw notFound('This system');
    return { subject: { type: 'system' as const, id: systemId }, name: system.name, systems: [systemId] };
  }
  if (kindId !== null) {
    if (!rule.byKind) throw new Refusal('This rule is not set by kind.', { field: 'where' });
    const kind = await work.tx.kind.findUnique({ where: { id: kindId } });
    if (kind === null) throw notFound('This kind');
    return { subject: { type: 'kind' as const, id: kindId }, name: kind.name, systems: everywhere };
  }
  const site = await work.tx.site.findFirstOrThrow({ orderBy: [{ createdAt: 'asc' }, { id: 'asc' }] });
  return { subject: { type: 'site' as const, id: site.id }, name: 'the farm', systems: everywhere };
}

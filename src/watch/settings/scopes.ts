import { systemsInService } from '../../farm/systems/systems.ts';
import type { Reader } from '../../platform/service.ts';
import { kindsByRank } from '../../stock/kinds/kinds.ts';
import type { SettingScope } from './settings.rules.ts';

/** A scope as a form offers it: "farm", "system:<id>", "kind:<id>". */
export interface ScopeChoice {
  value: string;
  text: string;
  systemId?: string;
  /** The kind and its parent. */
  kindIds?: string[];
}

/** The farm, the systems of a site and (for rules set by kind) the kinds, groups first. Two queries. */
export async function scopeChoices(db: Reader, siteId: string, byKind = true): Promise<ScopeChoice[]> {
  const [systems, kinds] = await Promise.all([systemsInService(db, siteId), byKind ? kindsByRank(db) : []]);
  return [
    { value: 'farm', text: 'The whole farm' },
    ...systems.map(({ id, name }) => ({ value: `system:${id}`, text: name, systemId: id })),
    ...kinds.map((kind) => ({ value: `kind:${kind.id}`, text: kind.name, kindIds: kindLine(kind) })),
  ];
}

/** A scope by name: a system, a kind, or the whole farm. */
export async function scopeName(db: Reader, { systemId, kindId }: SettingScope): Promise<string> {
  if (systemId !== null) return (await db.system.findUnique({ where: { id: systemId } }))?.name ?? 'a system';
  if (kindId !== null) return (await db.kind.findUnique({ where: { id: kindId } }))?.name ?? 'a kind';
  return 'the whole farm';
}

/** A scope's kind and the kind's parent, along which settings inherit; none where it names no kind. */
export async function kindsOfScope(db: Reader, { kindId }: SettingScope): Promise<string[]> {
  const kind = kindId === null ? null : await db.kind.findUnique({ where: { id: kindId } });
  return kind === null ? [] : kindLine(kind);
}

const kindLine = ({ id, parentId }: { id: string; parentId: string | null }) => [
  id,
  ...(parentId === null ? [] : [parentId]),
];

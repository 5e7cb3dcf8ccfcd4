import { defaultsOf, type ParameterSet, settingsSchema, type Values } from '../rule-definition/parameters.ts';
import type { Rule, SettingsFor } from '../rule-definition/rule.ts';

/** What somebody set of one rule, for the farm (both null), one system or one kind. */
export interface SettingRow {
  rule: string;
  systemId: string | null;
  kindId: string | null;
  settings: unknown;
  reason: string;
  at: Date;
  who: string | null;
  scopeName: string | null;
}

/** Where a number is set: the farm (both null), one system or one kind. */
export interface SettingScope {
  systemId: string | null;
  kindId: string | null;
}

/** One number as it holds, and whose it is: null for the default. */
export interface SettingOrigin {
  value: number;
  from: SettingRow | null;
}

/** All that was set, asked for by rule and place. */
export class FarmSettings {
  readonly #rows: readonly SettingRow[];

  constructor(rows: readonly SettingRow[]) {
    this.#rows = rows;
  }

  /** The numbers of a rule in a system, or there for a kind: default, then farm, then kind from the group down, then system. */
  here<K extends ParameterSet>(rule: Pick<Rule<K>, 'name' | 'parameters'>, systemId: string): SettingsFor<K> {
    const own = this.#rows.filter((row) => row.rule === rule.name);
    const known = new Map<string, Values<K>>();
    const values = (kindIds: readonly string[] = []) => {
      const key = kindIds.join();
      const found = known.get(key) ?? resolve(rule, layersOf(own, systemId, kindIds));
      known.set(key, found);
      return found;
    };
    return Object.assign(values, {
      of: <Other extends ParameterSet>(other: Pick<Rule<Other>, 'name' | 'parameters'>) =>
        this.here(other, systemId),
    });
  }

  /** The same number by number, with where it comes from; for the farm when neither system nor kind is given. */
  origins(
    rule: Rule,
    systemId: string | null = null,
    kindIds: readonly string[] = [],
  ): Record<string, SettingOrigin> {
    const layers = layersOf(
      this.#rows.filter((row) => row.rule === rule.name),
      systemId,
      kindIds,
    );
    return Object.fromEntries(
      Object.entries(rule.parameters).map(([name, parameter]) => {
        const from = layers.findLast((row) => name in readSettings(rule, row)) ?? null;
        const set = from === null ? undefined : readSettings(rule, from)[name];
        return [name, { value: set ?? parameter.default, from: set === undefined ? null : from }];
      }),
    );
  }

  /** The book as it would be with one number set in one place, or (null) taken back there. */
  with(rule: Rule, name: string, value: number | null, place: SettingScope): FarmSettings {
    const here = (row: SettingRow) =>
      row.rule === rule.name && row.systemId === place.systemId && row.kindId === place.kindId;
    const old = this.#rows.find(here);
    const { [name]: _, ...others } = old === undefined ? {} : readSettings(rule, old);
    const settings = value === null ? others : { ...others, [name]: value };
    const row = {
      rule: rule.name,
      ...place,
      settings,
      reason: '',
      at: new Date(0),
      who: null,
      scopeName: null,
    };
    return new FarmSettings([...this.#rows.filter((one) => !here(one)), row]);
  }

  /** What was set of a rule for single systems and kinds. */
  exceptions(rule: Rule): { row: SettingRow; values: Record<string, number> }[] {
    return this.#rows
      .filter((row) => row.rule === rule.name && (row.systemId !== null || row.kindId !== null))
      .map((row) => ({ row, values: readSettings(rule, row) }))
      .filter(({ values }) => Object.keys(values).length > 0);
  }
}

function layersOf(
  rows: readonly SettingRow[],
  systemId: string | null,
  kindIds: readonly string[],
): SettingRow[] {
  const farm = rows.filter((row) => row.systemId === null && row.kindId === null);
  const kinds = [...kindIds].reverse().flatMap((id) => rows.filter((row) => row.kindId === id));
  const system = rows.filter((row) => systemId !== null && row.systemId === systemId);
  return [...farm, ...kinds, ...system];
}

function resolve<K extends ParameterSet>(
  rule: Pick<Rule<K>, 'parameters'>,
  layers: readonly SettingRow[],
): Values<K> {
  return Object.assign({ ...defaultsOf(rule.parameters) }, ...layers.map((row) => readSettings(rule, row)));
}

/** What a row sets; a number that no longer fits the rule counts as not set. */
export function readSettings(
  rule: Pick<Rule, 'parameters'>,
  row: Pick<SettingRow, 'settings'>,
): Record<string, number> {
  const stored = (row.settings ?? {}) as Record<string, unknown>;
  if (Object.keys(stored).length === 0) return {};
  const { shape } = settingsSchema(rule.parameters);
  const fitting = Object.entries(stored).filter(
    ([name, value]) => value !== undefined && shape[name]?.safeParse(value).success === true,
  );
  return Object.fromEntries(fitting) as Record<string, number>;
}

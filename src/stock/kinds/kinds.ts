import type { Kind } from '../../generated/prisma/client.ts';
import type { GrowthForm } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { kindFinder, shortensTo, standsIn } from './kind-names.rules.ts';

/** The care groups, by name. */
export async function listGroups(db: Reader): Promise<Kind[]> {
  return db.kind.findMany({ where: { rank: 'group' }, orderBy: { name: 'asc' } });
}

/** A care group with its taxa. */
export interface GroupOfKinds {
  group: Kind;
  taxa: Kind[];
}

/** Every group with its taxa, by name. */
export async function listKinds(db: Reader): Promise<GroupOfKinds[]> {
  const kinds = await db.kind.findMany({ orderBy: { name: 'asc' } });
  const groups = kinds.filter((kind) => kind.rank === 'group');
  return groups.map((group) => ({ group, taxa: kinds.filter((kind) => kind.parentId === group.id) }));
}

/** Kinds to choose from: each group, then its taxa. */
export async function kindChoices(db: Reader): Promise<{ value: string; text: string }[]> {
  return (await listKinds(db)).flatMap(({ group, taxa }) => [
    { value: group.id, text: `${group.name} (species not known)` },
    ...taxa.map(({ id, name }) => ({ value: id, text: `${group.name}: ${name}` })),
  ]);
}

/** Every kind with all its names, for typing a part of any of them. */
export async function kindNames(db: Reader): Promise<{ name: string; also: string }[]> {
  const kinds = await db.kind.findMany({ orderBy: [{ rank: 'asc' }, { name: 'asc' }] });
  return kinds.map(({ name, alsoCalled }) => ({ name, also: alsoCalled.join(', ') }));
}

const isId = /^[0-9a-f]{8}-([0-9a-f]{4}-){3}[0-9a-f]{12}$/i;

/** Kinds that a refusal names; own choice. */
const named = 4;

/**
 * The kind that somebody means: by its id, by its name or another it is called by, or by a part or a
 * shortening that only one kind has.
 * @throws Refusal when none is called so, or several are
 */
export async function kindMeant(db: Reader, typed: string): Promise<Kind> {
  const refuse = (message: string) => new Refusal(message, { field: 'kindId' });
  if (isId.test(typed)) {
    const kind = await db.kind.findUnique({ where: { id: typed } });
    if (kind === null) throw refuse('Choose the kind it is kept as.');
    return kind;
  }
  const asked = typed.trim().toLowerCase();
  const kinds = await db.kind.findMany({ orderBy: { name: 'asc' } });
  const called = (is: (name: string) => boolean) =>
    kinds.filter(({ name, alsoCalled }) => [name, ...alsoCalled].some((one) => is(one.toLowerCase())));
  const own = kinds.filter(({ name }) => name.toLowerCase() === asked);
  const exact = own.length > 0 ? own : called((name) => name === asked);
  const ways = [
    () => exact,
    () => called((name) => standsIn(asked, name)),
    () => called((name) => shortensTo(asked, name)),
  ];
  const found = ways.map((way) => way()).find((some) => some.length > 0) ?? [];
  const [only, second] = found;
  if (only === undefined) {
    const named = kinds.map(({ id, name, alsoCalled }) => ({ id, name, names: [name, ...alsoCalled] }));
    const like = kindFinder(named).suggest(typed);
    const meant = like === null ? '' : ` Did you mean ${like.name}?`;
    throw refuse(`No kind is called “${typed}”.${meant} Choose one of the list, or its group.`);
  }
  if (second === undefined) return only;
  const names = found.slice(0, named).map(({ name }) => name);
  const more = found.length > named ? `, or ${found.length - named} more` : '';
  throw refuse(`Several kinds are called “${typed}”: ${names.join(', ')}${more}. Choose one.`);
}

/** @throws Refusal 404 */
export async function findKind(db: Reader, code: string): Promise<Kind & { parent: Kind | null }> {
  const kind = await db.kind.findUnique({ where: { code }, include: { parent: true } });
  if (kind === null) throw notFound('This kind');
  return kind;
}

/** How many lots with pieces left are of a kind, or of a taxon under it. */
export const countLotsOf = (db: Reader, kindId: string): Promise<number> =>
  db.lot.count({ where: { pieces: { gt: 0 }, OR: [{ kindId }, { kind: { parentId: kindId } }] } });

/** A taxon to be added under a care group. */
export interface NewKind {
  groupId: string;
  name: string;
  alsoCalled: string[];
  /** Null: that of its group. */
  growthForm: GrowthForm | null;
  note: string;
}

/** The code of a kind in addresses: "Favites sp. 2" gives favites-sp-2. */
function codeOfName(name: string): string {
  return name
    .normalize('NFKD')
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^-|-$/g, '');
}

/** Adds a taxon under a care group; its care is the group's until it has figures of its own. */
export async function addKind(work: Work, input: NewKind): Promise<{ id: string; code: string }> {
  const { groupId, name, alsoCalled, growthForm, note } = input;
  const group = await work.tx.kind.findUnique({ where: { id: groupId, rank: 'group' } });
  if (group === null) throw new Refusal('Choose the group whose care it has.', { field: 'groupId' });
  const code = codeOfName(name);
  if (code === '') throw new Refusal('Enter a name with letters.', { field: 'name' });
  if ((await work.tx.kind.findUnique({ where: { code } })) !== null) {
    throw new Refusal('There is already a kind of this name.', { status: 409, field: 'name' });
  }
  const { id } = await work.tx.kind.create({
    data: { code, rank: 'taxon', parentId: groupId, name, alsoCalled, growthForm, note },
  });
  work.record('kind.added', { type: 'kind', id }, { code, name, group: group.name });
  return { id, code };
}

/** A change of a kind; `version` is the one the form was drawn with. */
export interface KindEdit {
  name: string;
  alsoCalled: string[];
  growthForm: GrowthForm | null;
  note: string;
  version: number;
}

/**
 * Changes a kind's names, growth form and note. An old name stays among its other names, so that searches for it still find the lots;
 * lots and their history belong to the kind, not to its name.
 * @throws Refusal 404; 409 when somebody changed it meanwhile
 */
export async function editKind(work: Work, id: string, edit: KindEdit): Promise<void> {
  const before = await work.tx.kind.findUnique({ where: { id } });
  if (before === null) throw notFound('This kind');
  const { name, note, growthForm, version } = edit;
  const earlier = before.name === name ? [] : [before.name];
  const alsoCalled = [...new Set([...edit.alsoCalled, ...earlier])].filter((other) => other !== name);
  const data = { name, note, alsoCalled, growthForm, version: { increment: 1 } };
  const changed = await work.tx.kind.updateMany({ where: { id, version }, data });
  if (changed.count === 0) throw staleEdit('this kind');
  const { name: oldName, alsoCalled: oldNames, growthForm: oldForm, note: oldNote } = before;
  const was = { name: oldName, alsoCalled: oldNames, growthForm: oldForm, note: oldNote };
  const after = { name, alsoCalled, growthForm, note };
  work.record('kind.changed', { type: 'kind', id }, { before: was, after });
}

/** Every kind and group, groups first. */
export async function kindsByRank(db: Reader): Promise<Kind[]> {
  return db.kind.findMany({ orderBy: [{ rank: 'asc' }, { name: 'asc' }] });
}

import { isLike, plainName } from './kind-names.rules.ts';
import { bareName, crossedNames, doubtIn } from './written-names.rules.ts';

/** A kind of the library with its names and its group. */
export interface LibraryName {
  id: string;
  name: string;
  alsoCalled: readonly string[];
  /** Its group's id and name; its own where it is a group. */
  groupId: string;
  groupName: string;
  isTaxon: boolean;
}

/** What the library says to a name. Only `spelling` and `conflict` are asked about; nothing is ever changed by itself. */
export interface NameNote {
  what: 'other_name' | 'spelling' | 'genus' | 'cross' | 'unknown' | 'conflict' | 'unproven';
  text: string;
  /** The name of the library that may be meant; '' where there is none. */
  suggestion: string;
}

const note = (what: NameNote['what'], text: string, suggestion = ''): NameNote => ({
  what,
  text,
  suggestion,
});
const wordsOf = (text: string) =>
  plainName(text)
    .split(' ')
    .filter((word) => word !== '');
const namesOf = ({ name, alsoCalled }: LibraryName) => [name, ...alsoCalled];
const genusOf = ({ name, isTaxon }: Pick<LibraryName, 'name' | 'isTaxon'>) =>
  isTaxon ? (wordsOf(name)[0] ?? '') : '';

/** A taxon, or a genus of which the library has taxa: what a name is held against. */
interface Found {
  how: 'own' | 'other' | 'short' | 'slip' | 'more' | 'genus' | 'genus-slip' | 'none';
  kind: LibraryName | null;
  /** The name that is meant. */
  name: string;
}

/** Which kind of the library a scientific name means. A genus with its species unknown is found by its genus. */
function find(text: string, library: readonly LibraryName[]): Found {
  const typed = wordsOf(bareName(text));
  const plain = typed.join(' ');
  const own = library.find(({ name }) => plainName(name) === plain);
  if (own !== undefined) return { how: 'own', kind: own, name: own.name };
  const others = library.filter(({ alsoCalled }) => alsoCalled.some((name) => plainName(name) === plain));
  const [other] = others;
  if (other !== undefined && others.length === 1) return { how: 'other', kind: other, name: other.name };
  return (
    findShort(typed, library) ??
    findSlip(typed, library) ??
    findMore(typed, library) ??
    findGenus(text, library)
  );
}

/** "A. tenuis", where one taxon alone begins and ends so. */
function findShort(
  [initial = '', ...rest]: readonly string[],
  library: readonly LibraryName[],
): Found | null {
  if (initial.length !== 1 || rest.length !== 1) return null;
  const meant = library.filter(({ name, isTaxon }) => {
    const [genus = '', species = ''] = wordsOf(name);
    return isTaxon && genus.startsWith(initial) && species === rest[0];
  });
  const [kind] = meant;
  return kind === undefined || meant.length > 1 ? null : { how: 'short', kind, name: kind.name };
}

function findSlip(typed: readonly string[], library: readonly LibraryName[]): Found | null {
  const like = (name: string) => {
    const words = wordsOf(name);
    return words.length === typed.length && words.every((word, i) => isLike(word, typed[i] ?? ''));
  };
  for (const kind of library)
    for (const name of namesOf(kind)) if (like(name)) return { how: 'slip', kind, name };
  return null;
}

/** A taxon of the library with more words behind it: "Acropora tenuis var. blue". */
function findMore(typed: readonly string[], library: readonly LibraryName[]): Found | null {
  if (typed.length < 3) return null;
  const plain = typed.slice(0, 2).join(' ');
  const kind = library.find(({ name, isTaxon }) => isTaxon && plainName(name) === plain);
  return kind === undefined ? null : { how: 'more', kind, name: kind.name };
}

function findGenus(text: string, library: readonly LibraryName[]): Found {
  const [typed = ''] = wordsOf(text);
  const genus = library.find((kind) => genusOf(kind) !== '' && genusOf(kind) === typed);
  if (genus !== undefined) return { how: 'genus', kind: genus, name: genus.name.split(' ')[0] ?? '' };
  const near = library.find((kind) => genusOf(kind).length > 4 && isLike(genusOf(kind), typed));
  if (near !== undefined) {
    const [first = ''] = near.name.split(' ');
    return { how: 'genus-slip', kind: near, name: [first, ...text.trim().split(/\s+/).slice(1)].join(' ') };
  }
  return { how: 'none', kind: null, name: '' };
}

/** What a lot is kept as, as far as a name is held against it. */
type KeptAs = Pick<LibraryName, 'name' | 'isTaxon' | 'groupId' | 'groupName'>;

/** Whether a name means something else than the lot is kept as: another group, or another taxon or genus of its group. */
function isAnother({ how, kind }: Found, keptAs: KeptAs): boolean {
  if (kind === null) return false;
  if (kind.groupId !== keptAs.groupId) return true;
  if (!kind.isTaxon || !keptAs.isTaxon) return false;
  return isGenusAlone(how) ? genusOf(kind) !== genusOf(keptAs) : kind.name !== keptAs.name;
}

const isGenusAlone = (how: Found['how']) => how === 'genus' || how === 'genus-slip';

/** The name of the library that is meant, and what the lot is kept as, where they are in conflict: "A among B". */
function conflictOf({ how, kind }: Found & { kind: LibraryName }, keptAs: KeptAs) {
  const meant = isGenusAlone(how) && kind.isTaxon ? (kind.name.split(' ')[0] ?? '') : kind.name;
  return kind.groupId === keptAs.groupId
    ? { meant, among: '', kept: keptAs.name }
    : { meant, among: ` among ${kind.groupName}`, kept: keptAs.groupName };
}

/**
 * What the library says to a scientific name that somebody gives a lot.
 * @param keptAs the kind the lot is kept as; its group decides about a conflict, and within it its taxon
 */
export function checkScientificName(
  text: string,
  keptAs: KeptAs,
  library: readonly LibraryName[],
): NameNote[] {
  const crossed = crossedNames(text);
  if (crossed.length > 0) return aboutCross(crossed, keptAs, library);
  const found = find(text, library);
  const { how, kind, name } = found;
  const doubt = doubtIn(text);
  const notes =
    doubt === '' || kind === null
      ? aboutName(text, how, name)
      : [
          note(
            'spelling',
            `“${doubt}” says how sure the name is. Enter ${name}, and choose “${doubt}” as how sure it is.`,
            name,
          ),
        ];
  if (kind === null || !isAnother(found, keptAs)) return notes;
  const { meant, among, kept } = conflictOf({ ...found, kind }, keptAs);
  const says = among === '' ? `It is named ${meant};` : `The library keeps ${meant}${among};`;
  return [...notes, note('conflict', `${says} this lot is kept as ${kept}. Its care is that of ${kept}.`)];
}

/** A cross of several: of which kinds, and a conflict where it is of none that the lot is kept as. */
function aboutCross(crossed: readonly string[], keptAs: KeptAs, library: readonly LibraryName[]): NameNote[] {
  const parents = crossed.map((text) => ({ text, found: find(text, library) }));
  const names = parents.map(({ text, found }) => (found.how === 'own' ? found.name : `“${text}”`));
  const says = note(
    'cross',
    `By its name a cross of ${names.join(' and ')}. The library has no crosses: its care is that of ${keptAs.name}.`,
  );
  const known = parents.flatMap(({ found }) => (found.kind === null ? [] : [{ ...found, kind: found.kind }]));
  const [first] = known;
  if (first === undefined || known.some((one) => !isAnother(one, keptAs))) return [says];
  const { meant, among, kept } = conflictOf(first, keptAs);
  return [says, note('conflict', `The library keeps ${meant}${among}; this lot is kept as ${kept}.`)];
}

function aboutName(text: string, how: Found['how'], name: string): NameNote[] {
  switch (how) {
    case 'own':
      return [];
    case 'other':
      return [note('other_name', `The library has “${text}” as another name of ${name}.`, name)];
    case 'short':
      return [note('spelling', `“${text}” may be short for ${name}. Write it out.`, name)];
    case 'more':
      return [note('genus', `The library has ${name}, and knows nothing of the rest of “${text}”.`)];
    case 'slip':
    case 'genus-slip':
      return [note('spelling', `“${text}” may be a slip. Did you mean ${name}?`, name)];
    case 'genus':
      return wordsOf(text).length > 1 && !/\bspp?\b/.test(plainName(text))
        ? [note('genus', `The library knows the genus ${name}, not this species.`)]
        : [];
    default:
      return [note('unknown', `The library knows no “${text}”.`)];
  }
}

/**
 * What a trade name is worth: another word for a kind of the library, or the name of a line, which nobody can prove by
 * looking at a piece.
 */
export function checkTradeName(text: string, keptAs: KeptAs, library: readonly LibraryName[]): NameNote[] {
  if (text.trim() === '') return [];
  const found = find(text, library);
  const { how, kind, name } = found;
  const isKnown = how === 'own' || how === 'other' || how === 'short';
  if (kind !== null && (isKnown || how === 'genus' || how === 'slip') && isAnother(found, keptAs)) {
    const { meant, among, kept } = conflictOf({ ...found, kind }, keptAs);
    const which = among === '' ? `which is ${meant}` : `which the library keeps${among}`;
    const text_ = how === 'slip' ? `“${text}”, perhaps ${name}` : `“${text}”`;
    return [
      note(
        'conflict',
        `It is sold as ${text_}, ${which}; this lot is kept as ${kept}.`,
        isKnown || how === 'slip' ? kind.name : '',
      ),
    ];
  }
  if (isKnown) return [];
  if (how === 'slip') return [note('spelling', `It is sold as “${text}”. Did you mean ${name}?`, name)];
  return [note('unproven', `“${text}” is the name of a line, unproven: the look of a piece proves no line.`)];
}

/** Notes that are asked about before a name is taken as typed. */
export const askedAbout = (notes: readonly NameNote[]): NameNote[] =>
  notes.filter(({ what }) => what === 'spelling' || what === 'conflict');

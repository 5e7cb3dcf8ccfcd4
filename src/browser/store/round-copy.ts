import type { QueuedEntry, TabletRound } from './types.ts';

/** What the tablet has of a round, and which of its screens must be as they stand now. */
export interface RoundWanted {
  copy: TabletRound | undefined;
  /** Their addresses, the most wanted first. */
  screens: readonly string[];
  /** Every screen whose mark has changed as well. */
  allChanged: boolean;
}

/** Has the service draw some screens, by their addresses. */
type Draw<Failed> = (paths: readonly string[]) => Promise<Answer<Failed>>;

type Answer<Failed> = { ok: true; value: TabletRound } | Failed;

/** So many screens are asked for at once: what the service takes. */
const atOnce = 8;

/** So many screens that others changed meanwhile are drawn anew each time (own choice): all are in their turn. */
const inTurn = 1;

/** The copy with what an answer brought; without screens that the round has no more. */
function renewed(copy: TabletRound | undefined, answer: TabletRound): TabletRound {
  const { screens = [] } = answer;
  const pages: TabletRound['pages'] = {};
  for (const { path, mark } of screens) {
    const drawn = answer.pages[path];
    const kept = drawn === undefined ? copy?.pages[path] : { ...drawn, mark };
    if (kept !== undefined) pages[path] = kept;
  }
  return { ...answer, pages };
}

/** The screens that are to be drawn: those that the copy lacks, those wanted, some of those that others changed. */
function toDraw({ screens = [], pages }: TabletRound, wanted: RoundWanted): string[] {
  const missing = screens.filter(({ path }) => pages[path] === undefined).map(({ path }) => path);
  const changed = screens
    .filter(({ path, mark }) => pages[path] !== undefined && pages[path].mark !== mark)
    .map(({ path }) => path);
  const must = changed.filter((path) => wanted.allChanged || wanted.screens.includes(path));
  const others = changed.filter((path) => !must.includes(path)).slice(0, inTurn);
  return [...must, ...missing, ...others];
}

/**
 * Brings the tablet's copy of a round up to date, some screens at a time: those that must be, those it lacks, and one of
 * those that others changed meanwhile.
 * @param keep hears of the copy while it grows, so that a network that goes leaves what came
 * @returns the copy, with every screen of the round
 */
export async function renewRound<Failed extends { ok: false }>(
  wanted: RoundWanted,
  draw: Draw<Failed>,
  keep: (copy: TabletRound) => Promise<void>,
): Promise<Answer<Failed>> {
  const first = await draw(wanted.screens.slice(0, atOnce));
  // A service that marks no screens gives them all.
  if (!first.ok || first.value.screens === undefined) return first;
  let copy = renewed(wanted.copy, first.value);
  // Others go on noting meanwhile: what came once is not drawn again before the next time.
  const came = new Set(Object.keys(first.value.pages));
  let left = toDraw(copy, wanted).filter((path) => !came.has(path));
  while (left.length > 0) {
    await keep({ ...copy, latest: wanted.copy?.latest ?? '' });
    const more = await draw(left.slice(0, atOnce));
    if (!more.ok) return more;
    for (const path of Object.keys(more.value.pages)) came.add(path);
    copy = renewed(copy, more.value);
    const still = new Set(copy.screens?.map(({ path }) => path));
    const rest = left.filter((path) => !came.has(path) && still.has(path));
    if (rest.length === left.length) break;
    left = rest;
  }
  return { ok: true, value: copy };
}

/** The screens that show what these entries say; all that changed where one does not name its rack or system. */
export function showing(
  roundId: string,
  kept: readonly QueuedEntry[],
): Pick<RoundWanted, 'screens' | 'allChanged'> {
  if (kept.length === 0) return { screens: [], allChanged: false };
  const round = `/rounds/${roundId}`;
  const named = kept.map(({ entry: { rackId, systemId } }) => [
    ...(rackId ? [`${round}/racks/${rackId}`] : []),
    ...(systemId ? [`${round}/systems/${systemId}`, `${round}/systems/${systemId}/tests`] : []),
  ]);
  return {
    screens: [...new Set(named.flat()), round, `${round}/end`],
    allChanged: named.some((paths) => paths.length === 0),
  };
}

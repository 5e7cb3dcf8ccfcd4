import { uuidv7 } from 'uuidv7';
import { passWords } from '../../browser/round/rack-words.ts';
import { things } from '../../farm/switched-off/things.rules.ts';
import { notFound } from '../../platform/refusal.ts';
import type { FormState } from '../../platform/web/forms.ts';
import { plural } from '../../platform/words/numbers.ts';
import { agoWords, timeWords } from '../../platform/words/times.ts';
import { minuteMs } from '../../science/numeric/time.ts';
import { placeDrawing } from '../../stock/places/place-drawing.ts';
import { lastWords } from '../../stock/rack-photographs/last-tries.ts';
import { type LotRow, lotRow } from '../round/lot-rows.rules.ts';
import { navigationFrom, type RackState, rackStateOf } from '../round/progress.rules.ts';
import type { RackLot, RoundRack } from '../round/rack-lots.ts';
import { refusedEntries, untakenLots } from '../round/refused-entries.rules.ts';
import type { RoundSheet } from '../round/round-sheet.ts';
import type { SavedEntry } from '../round/saved-entries.ts';
import { feedingState, type StepState, testingState } from '../round/steps-done.rules.ts';
import { countPath, countRows, racksToCount } from './count-rows.ts';
import { rackPlates } from './plates.rules.ts';
import { dueWords } from './task-rows.ts';

/** One screen of a round: which view, with what. */
export interface Screen {
  view: string;
  title: string;
  data: object;
}

export const roundPath = (roundId: string) => `/rounds/${roundId}`;
export const rackPath = (roundId: string, rackId: string) => `/rounds/${roundId}/racks/${rackId}`;
export const lotPath = (roundId: string, rackId: string, lotId: string) =>
  `${rackPath(roundId, rackId)}/lots/${lotId}`;
export const systemPath = (roundId: string, systemId: string) => `/rounds/${roundId}/systems/${systemId}`;
export const testsPath = (roundId: string, systemId: string) => `${systemPath(roundId, systemId)}/tests`;

/** What the head of each screen says: whose round, how far, whether something is off, what wants testing again. */
export function headOf(sheet: RoundSheet) {
  const { round, progress, off, systems, now, repeats } = sheet;
  const [first] = off;
  const [repeat] = repeats;
  return {
    roundId: round.id,
    nowIso: now.toISOString(),
    up: roundPath(round.id),
    plan: round.plan.name,
    progress: `${progress.looked} of ${plural(progress.total, 'rack', 'racks')}`,
    finished: round.finishedAt !== null,
    again:
      repeat === undefined || round.finishedAt !== null
        ? null
        : {
            href: `${testsPath(round.id, repeat.systemId)}#test-${repeat.code}`,
            said: repeat.said,
            system: systems.find(({ id }) => id === repeat.systemId)?.name ?? '',
            others: repeats.length - 1,
          },
    off:
      first === undefined
        ? null
        : {
            href: systems.some(({ id }) => id === first.systemId)
              ? systemPath(round.id, first.systemId)
              : '/',
            what: first.what,
            state: things[first.thing].state,
            system: first.systemName,
            due: first.dueAt,
            dueIso: first.dueAt.toISOString(),
            late: now >= first.dueAt,
            others: off.length - 1,
            id: first.id,
            feedingId: first.feedingId,
            key: uuidv7(),
            entries: `${roundPath(round.id)}/entries`,
            next: roundPath(round.id),
          },
  };
}

/** "all others well 08:12", "2 noted", "left out: wet floor". */
function rackWords(standing: RackState, timeZone: string): string {
  const { state, at, noted, why } = standing;
  const time = at === null ? '' : timeWords(at, timeZone);
  if (state === 'looked') return `${passedWords(standing)} ${time}`;
  if (state === 'left_out') return `left out: ${why}`;
  return state === 'begun' ? `${noted} noted, not all looked at` : '';
}

/** "all well", "2 noted, 3 no worse, others well". */
function passedWords({ noted, noWorse }: RackState): string {
  const apart = [noted === 0 ? '' : `${noted} noted`, noWorse === 0 ? '' : `${noWorse} no worse`];
  const said = apart.filter((part) => part !== '');
  return said.length === 0 ? 'all well' : `${said.join(', ')}, others well`;
}

/** The racks and systems on the way, and where to go on. */
export function overviewScreen(sheet: RoundSheet, form?: FormState): Screen {
  const { round, racks, timeZone } = sheet;
  const looks = round.plan.steps.includes('look');
  const { next } = navigationFrom(
    racks.map((rack) => rack.id),
    null,
    sheet.rackStates,
  );
  const nextRack = racks.find((rack) => rack.id === next);
  const rows = racks.map((rack, i) => {
    const standing = rackStateOf(sheet.rackStates, rack.id);
    return {
      href: rackPath(round.id, rack.id),
      number: i + 1,
      name: rack.name,
      place: `${rack.tank}, ${rack.system}`,
      lots: rack.lots,
      now: rack.now,
      today: rack.today,
      words: rackWords(standing, timeZone),
      done: standing.state === 'looked' || standing.state === 'left_out',
      begun: standing.state === 'begun',
    };
  });
  const systems = stepRows(sheet);
  const goOn =
    looks && nextRack !== undefined
      ? { href: rackPath(round.id, nextRack.id), text: nextRack.name }
      : (systems.find((system) => !system.done) ?? null);
  return {
    view: 'rounds/overview',
    title: round.plan.name,
    data: {
      ...headOf(sheet),
      racks: looks ? rows : [],
      paper: racks.length === 0 ? '' : `/stock/paper?${racks.map(({ id }) => `rack=${id}`).join('&')}`,
      systems,
      counts: countRows(sheet),
      countName: sheet.count?.stocktake.name ?? '',
      goOn,
      here: roundPath(round.id),
      chores: choreRows(sheet, null, form),
      entries: `${roundPath(round.id)}/entries`,
      refused: refusedEntries(sheet.notes).length,
      end: `${roundPath(round.id)}/end`,
    },
  };
}

/** What is ticked off in a system, or (null) on the whole round. */
export function choreRows({ chores }: RoundSheet, systemId: string | null, form?: FormState) {
  const came = (key: string) =>
    form !== undefined && form.errors.length > 0 && form.typed.kind === 'chore' && form.typed.key === key;
  return chores
    .filter((one) => one.systemId === systemId)
    .map((one) => ({
      ...one,
      ...{ entryId: uuidv7(), faultId: uuidv7() },
      note: came(one.key) ? String(form?.typed.note ?? '') : '',
      error: came(one.key) ? (form?.errors[0]?.message ?? null) : null,
    }));
}

function stepRows(sheet: RoundSheet) {
  const { round, systems, tasks, timeZone } = sheet;
  const ticks = round.plan.steps.filter((step) => ['dose', 'clean', 'check'].includes(step));
  const tests = round.plan.steps.includes('test');
  const feeds = round.plan.steps.includes('feed');
  const asked = systems.filter(
    ({ id }) => tests || feeds || ticks.length > 0 || tasks.some((task) => task.systemId === id),
  );
  return asked.map(({ id, name }) => {
    const due = dueWords(tasks.filter((task) => task.systemId === id));
    const [test, feed] = [testingState(sheet, id), feedingState(sheet, id)];
    const isFeedingDue = tasks.some(
      ({ systemId, work, done }) => systemId === id && work === 'feeding' && !done,
    );
    const isHeld = sheet.holds.some(({ systemId }) => systemId === id);
    const [off] = sheet.off.filter((one) => one.systemId === id);
    const chores = choreRows(sheet, id);
    const undone = chores.filter((chore) => chore.done === null);
    const words = [
      due.tests,
      tests && due.tests === null ? stepWords('tested', test, timeZone) : null,
      feeds && isHeld && !feed.done ? 'do not feed now' : null,
      feeds && !isFeedingDue && (!isHeld || feed.done) ? stepWords('fed', feed, timeZone) : null,
      due.ticks,
      chores.length === 0 ? null : choreWords(chores.length - undone.length, undone),
      off === undefined ? null : `${off.what.toLowerCase()} ${things[off.thing].state}`,
    ];
    return {
      href: systemPath(round.id, id),
      text: name,
      what: listWords([...(tests ? ['test'] : []), ...(feeds ? ['feed'] : []), ...ticks]) || 'work',
      words: words.filter((word) => word !== null).join(', '),
      done:
        due.open === 0 &&
        undone.length === 0 &&
        (!tests || test.done) &&
        (!feeds || feed.done || isHeld) &&
        off === undefined,
      off: off !== undefined,
    };
  });
}

/** "fed 08:12", "all fed", "not fed since 07:05", "not fed yet". */
function stepWords(done: string, { done: isDone, at, here }: StepState, timeZone: string): string {
  if (at !== null) return `${isDone || here ? done : `not ${done} since`} ${timeWords(at, timeZone)}`;
  return isDone ? `all ${done}` : `not ${done} yet`;
}

/** "cleaned, equipment not checked yet" in short: what is ticked off of how much. */
function choreWords(done: number, undone: readonly { title: string }[]): string {
  const [only] = undone;
  if (only === undefined) return 'all ticked off';
  if (undone.length === 1) return `still to do: ${only.title.toLowerCase()}`;
  return done === 0 ? `${undone.length} to tick off` : `${undone.length} more to tick off`;
}

/** "test", "test and feed", "test, feed and clean". */
function listWords(words: readonly string[]): string {
  return words.length < 2 ? (words[0] ?? '') : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`;
}

/** @throws Refusal 404 when the rack is not on the way */
export function rackOnRound(sheet: RoundSheet, rackId: string): RoundRack {
  const rack = sheet.racks.find((one) => one.id === rackId);
  if (rack === undefined) throw notFound('This rack, on this round,');
  return rack;
}

/** One rack with its lots in their places. */
export function rackScreen(sheet: RoundSheet, rackId: string, lots: readonly RackLot[]): Screen {
  const { round, now, timeZone } = sheet;
  const rack = rackOnRound(sheet, rackId);
  const ids = sheet.racks.map((one) => one.id);
  const way = navigationFrom(ids, rackId, sheet.rackStates);
  const untaken = untakenLots(sheet.notes);
  const rows = lots.map((lot) =>
    lotRow(lot, { startedAt: round.startedAt, now, untaken: untaken.has(lot.id) }, (at) =>
      agoWords(at, timeZone, now),
    ),
  );
  const standing = rackStateOf(sheet.rackStates, rackId);
  const path = (id: string | null) => (id === null ? null : rackPath(round.id, id));
  const entryOf = ownEntries(sheet.notes);
  const drawn = rows.map((row, i) => ({
    ...row,
    cells: lots[i]?.cells ?? [],
    href: lotPath(round.id, rackId, row.id),
    entryId: entryOf.get(row.id) ?? null,
    place: placeDrawing({ rows: rack.rows, columns: rack.columns, cells: lots[i]?.cells ?? [] }),
  }));
  const sick = drawn.filter(({ look }) => look !== null);
  return {
    view: 'rounds/rack',
    title: `${rack.name}: ${round.plan.name}`,
    data: {
      ...headOf(sheet),
      rack,
      count: racksToCount(sheet).some(({ id }) => id === rackId) ? countPath(round.id, rackId) : '',
      number: ids.indexOf(rackId) + 1,
      of: ids.length,
      plates: rackPlates(rack, drawn),
      photograph: photographOf(sheet, rackId),
      sick,
      others: drawn.filter(({ look }) => look === null),
      gone: goneLots(sheet.notes, rackId, lots),
      looked: standing.state === 'looked' ? rackWords(standing, timeZone) : null,
      lookedEntry: standing.state === 'looked' ? standing.entryId : null,
      pass: passWords(countOf(rows)),
      asBefore: rows
        .flatMap(({ open, before, untaken: waits }) => (open && !waits ? (before?.id ?? []) : []))
        .join(' '),
      here: rackPath(round.id, rackId),
      before: path(way.before),
      after: path(way.after),
      next: waterAfter(sheet, rackId) ?? path(way.next) ?? `${roundPath(round.id)}/end`,
      entries: `${roundPath(round.id)}/entries`,
    },
  };
}

/** What came of the last photograph of a rack: on this round, or before. */
function photographOf({ round, timeZone, now, photographs }: RoundSheet, rackId: string) {
  const last = photographs.get(rackId);
  const said = lastWords(last);
  if (last === undefined || said === '') return null;
  const isOfNow = last.at >= round.startedAt;
  return {
    said,
    when: isOfNow ? timeWords(last.at, timeZone) : `Last time, ${agoWords(last.at, timeZone, now)}`,
    href: last.id === null ? null : `/rack-photographs/${last.id}`,
  };
}

/** The lots of a rack by what one tap for the rest says of them. */
function countOf(rows: readonly LotRow[]) {
  const said = rows.filter((row) => !row.untaken);
  const noted = said.filter(({ state }) => state !== null).length;
  const sick = said.filter(({ open, before }) => open && before !== null).length;
  const lost = said.filter(({ open, before }) => open && before === null).length;
  return { noted, sick, lost, untaken: rows.length - said.length, well: said.length - noted - sick - lost };
}

/** The newest entry of each lot on this round that can be taken back. */
function ownEntries(notes: readonly SavedEntry[]): Map<string, string> {
  const own = notes.filter(({ kind, lotId }) => lotId !== null && (kind === 'condition' || kind === 'count'));
  return new Map(own.map(({ id, lotId }) => [lotId as string, id]));
}

/** Lots noted as lost on this round that have left the rack. */
function goneLots(notes: readonly SavedEntry[], rackId: string, lots: readonly RackLot[]) {
  return notes
    .filter((note) => note.rackId === rackId && note.kind === 'condition' && note.detail.state === 'lost')
    .filter((note) => !lots.some((lot) => lot.id === note.lotId))
    .map((note) => ({ code: note.detail.code ?? '', at: note.at, entryId: note.id }));
}

/**
 * The water that comes after a rack, where it is the last of its system on the way and something is left to do there: its
 * tests, where they belong to the round and none was entered, else its page; else null.
 */
export function waterAfter(sheet: RoundSheet, rackId: string): string | null {
  const rack = rackOnRound(sheet, rackId);
  const last = sheet.racks.findLast(({ systemId }) => systemId === rack.systemId);
  if (last?.id !== rackId) return null;
  const path = systemPath(sheet.round.id, rack.systemId);
  if (!stepRows(sheet).some(({ href, done }) => href === path && !done)) return null;
  const isTested = sheet.tested.some(({ systemId }) => systemId === rack.systemId);
  const asked = sheet.round.plan.steps.includes('test') && !isTested;
  return asked ? testsPath(sheet.round.id, rack.systemId) : path;
}

/** "12 min", "1 h 05 min": how long something took, or is to take. */
export function durationWords(from: Date, to: Date): string {
  const minutes = Math.max(0, Math.round((to.getTime() - from.getTime()) / minuteMs));
  if (minutes < 60) return `${minutes} min`;
  return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, '0')} min`;
}

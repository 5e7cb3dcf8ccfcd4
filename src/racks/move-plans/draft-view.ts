import { plural } from '../../platform/words/numbers.ts';
import { lotHref } from '../../stock/base/lot-href.ts';
import { ASSUMED_PITCH_MM } from '../../stock/places/reach.rules.ts';
import { placeWords } from '../../stock/places/slots.ts';
import { lightTone } from '../drawing/light-tones.rules.ts';
import { drawRackMiniature } from '../drawing/miniature.ts';
import type { Arrangement } from '../placement-solver/indexed-problem.rules.ts';
import { orderedMoves, type PlannedMove } from '../placement-solver/move-order.rules.ts';
import { unplacedReason } from '../placement-solver/unplaced-reason.rules.ts';
import { brokenLimitWords, slotChangeWords } from '../placement-solver/words.rules.ts';
import type { PlacementDraft } from './draft.ts';
import type { InputRack } from './problem.ts';
import { LIFT_CAUTION } from './state.ts';

/** So many lots that fit nowhere are told one by one. */
const TOLD = 60;
const LONGEST = 590;
/** Up to so many racks are named. */
const NAMED = 4;

/** A draft as its page and JSON show it. */
export function placementView(draft: PlacementDraft) {
  const { plan, chosen, locked, wrongBefore, wrongAfter } = draft;
  const walk = orderedMoves(plan);
  const lines = walk.map((line, i) => lineOf(draft, line, i));
  const fits = plan.unresolved.slice(0, TOLD).map((lot) => nowhereOf(draft, lot));
  return {
    chosen,
    wrongBefore: wrongBefore.size,
    wrongAfter: wrongAfter.size,
    moved: plan.moves.size,
    lines,
    moves: lines.map(({ lotId, slotIds, why }) => ({ lotId, slotIds, why })),
    nowhere: fits,
    nowhereMore: plan.unresolved.length - fits.length,
    locked: locked.map(({ code, kind, staysWhy }) => ({ code, href: lotHref(code), kind, why: staysWhy })),
    doubts: doubtsOf(draft),
    racks: picturesOf(draft),
  };
}

export type PlacementView = ReturnType<typeof placementView>;

function lineOf(draft: PlacementDraft, { lot, from, to, how }: PlannedMove, i: number) {
  const { problem } = draft.plan;
  const { id, code, kind } = problem.lot(lot);
  return {
    number: i + 1,
    lotId: id,
    code,
    href: lotHref(code),
    kind,
    slotIds: to.map((slot) => problem.slot(slot).id),
    from: placeOf(draft, from),
    to: placeOf(draft, to),
    how,
    why: whyOf(draft, { lot, from, to, how }).slice(0, LONGEST),
  };
}

function whyOf(draft: PlacementDraft, { lot, from, to, how }: PlannedMove): string {
  const { problem } = draft.plan;
  if (how === 'lifted') return `Lifted out, so that another can have its place. ${LIFT_CAUTION}`;
  if (how === 'waits') return 'It waits here until its place is free.';
  const home = problem.currentSlots[lot] ?? [];
  if (from.length > 0 && from !== home) return 'From where it waited.';
  const goal = problem.slot(to[0] as number);
  const finds = slotChangeWords(home[0] === undefined ? null : problem.slot(home[0]), goal);
  return `${reasonOf(draft, lot)} ${finds}`;
}

/** Why a lot moves at all. */
function reasonOf(draft: PlacementDraft, lot: number): string {
  const { problem } = draft.plan;
  if ((problem.currentSlots[lot] ?? []).length === 0) return 'It has no slot yet.';
  const wrong = wrongSentences(draft, lot);
  return wrong.length === 0 ? 'It makes way for another.' : wrong.join(' ');
}

function wrongSentences({ plan: { problem, before }, wrongBefore }: PlacementDraft, lot: number): string[] {
  const home = problem.currentSlots[lot] ?? [];
  const [first] = home;
  const mask = wrongBefore.get(lot) ?? 0;
  if (first === undefined || mask === 0) return [];
  const beside = problem.neighboursInReach(lot, home, before).map((other) => problem.lot(other).code);
  // Over several slots the one that breaks most tells it.
  const worst =
    [...home].sort(
      (a, b) => problem.brokenLimits(lot, [b], true) - problem.brokenLimits(lot, [a], true),
    )[0] ?? first;
  return brokenLimitWords(mask, problem.lot(lot), problem.slot(worst), beside);
}

function nowhereOf(draft: PlacementDraft, lot: number) {
  const { problem, after } = draft.plan;
  const { code, kind } = problem.lot(lot);
  return {
    code,
    href: lotHref(code),
    kind,
    stands: placeOf(draft, problem.currentSlots[lot] ?? []),
    wrong: wrongSentences(draft, lot),
    miss: unplacedReason(problem, lot, after, draft.input.racks),
  };
}

function placeOf({ plan: { problem }, input }: PlacementDraft, slots: readonly number[]): string {
  const [first] = slots;
  if (first === undefined) return '';
  const rack = input.racks.get(problem.slot(first).rackId);
  return placeWords(
    rack?.name ?? '',
    slots.map((slot) => problem.slot(slot)),
  );
}

/** What the plan could not know. */
function doubtsOf({ input, plan }: PlacementDraft): string[] {
  const used = [...input.racks.values()].filter(({ id }) =>
    input.slots.some((slot) => slot.open && slot.rackId === id),
  );
  const names = (racks: readonly InputRack[]) =>
    racks.length > NAMED ? `${racks.length} of these racks` : racks.map(({ name }) => name).join(', ');
  const unsized = used.filter(({ slotWidthMm, slotDepthMm }) => slotWidthMm === null || slotDepthMm === null);
  const dark = used.filter(({ id }) =>
    input.slots.every((slot) => slot.rackId !== id || slot.light === null),
  );
  const strange = [...plan.moves.keys()].filter((lot) => !plan.problem.lot(lot).care.isAccustomed).length;
  return [
    ...(unsized.length === 0
      ? []
      : [
          `How wide a slot is is not noted of ${names(unsized)}: lots are kept out of each other’s reach as if slots were ${ASSUMED_PITCH_MM} mm wide.`,
        ]),
    ...(dark.length === 0
      ? []
      : [`The light on ${names(dark)} was never measured, so nothing is sent there.`]),
    ...(strange === 0
      ? []
      : [
          `What ${plural(strange, 'lot is', 'lots are')} used to is not known: they go to the dim end of their range. Plan an acclimation before they go brighter.`,
        ]),
  ];
}

/** Racks on which anything changes, small, before and after; a filled square is a lot that stands wrong. */
function picturesOf({ input, plan, wrongBefore, wrongAfter }: PlacementDraft) {
  const changed = new Set<string>();
  for (const [slot, lot] of plan.after.entries()) {
    if (plan.before[slot] !== lot) changed.add(plan.problem.slot(slot).rackId);
  }
  return [...input.racks.values()]
    .filter(({ id }) => changed.has(id))
    .map((rack) => {
      const picture = (holders: Arrangement, wrong: ReadonlyMap<number, number>) => {
        const cells = input.standing.flatMap((slot, i) => {
          if (slot.rackId !== rack.id) return [];
          const lot = holders[i] as number;
          const tone = lightTone(slot.light?.par ?? null);
          const dot = lot < 0 ? null : wrong.has(lot) ? 'now' : '';
          return [{ row: slot.row, column: slot.column, tone, dot } as const];
        });
        return drawRackMiniature(cells, rack);
      };
      const count = (holders: Arrangement, wrong: ReadonlyMap<number, number>) =>
        new Set([...holders].filter((lot, i) => wrong.has(lot) && input.slots[i]?.rackId === rack.id)).size;
      return {
        name: rack.name,
        tank: `${rack.systemName}, ${rack.tankName}`,
        before: picture(plan.before, wrongBefore),
        after: picture(plan.after, wrongAfter),
        wrongBefore: count(plan.before, wrongBefore),
        wrongAfter: count(plan.after, wrongAfter),
      };
    });
}

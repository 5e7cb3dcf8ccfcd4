import { numberWords, plural } from '../../platform/words/numbers.ts';
import type { Arrangement, IndexedProblem } from './indexed-problem.rules.ts';
import { LIMITS, type Limit, limitsIn, type Needs, type PlanLot, type PlanSlot } from './slot-fit.rules.ts';
import { breaksOnly, dailyLightOf, flowsWords } from './words.rules.ts';

/** The name of a rack and the setting of its lamps, for the words of a reason. */
export interface PlacementRack {
  id: string;
  name: string;
  lampName: string | null;
  /** The setting of its lamps; null where none is noted. */
  lampPercent: number | null;
}

/** Slots of one rack that break the same limits for a lot. */
interface SlotGroup {
  rack: PlacementRack;
  mask: number;
  slots: PlanSlot[];
}

/** How many groups of slots a reason names at most (own choice). */
const MOST_SHOWN = 3;
/** Dimming the lamps below this share of their setting is not suggested: the other lots under them would starve (own choice). */
const LEAST_DIMMING = 0.4;

/**
 * Why a lot fits nowhere, and what would have to change, a sentence each: what it needs, how many suitable slots are taken,
 * then, rack by rack, the free slots that break one limit only ("3 slots on N2 would do if no jet struck them").
 */
export function unplacedReason(
  problem: IndexedProblem,
  lot: number,
  after: Arrangement,
  racks: ReadonlyMap<string, PlacementRack>,
): string[] {
  const groups = slotGroupsOf(problem, lot, after, racks);
  const taken = countTaken(problem, lot, after);
  const planLot = problem.lot(lot);
  const needs = problem.needs[lot] as Needs;
  const needed = `No free slot on these racks suits it: ${needsWords(planLot, needs)}.`;
  const near = groups
    .filter(({ mask }) => limitsIn(mask).length === 1)
    .sort((a, b) => b.slots.length - a.slots.length)
    .slice(0, MOST_SHOWN)
    .flatMap((group) => changeWords(group, needs));
  const full =
    taken === 0
      ? []
      : [
          `${plural(taken, 'slot that suits is', 'slots that suit are')} taken by lots that are well placed or stay.`,
        ];
  const none = near.length + full.length > 0 ? [] : mostBroken(groups);
  return [needed, ...full, ...near, ...none];
}

function slotGroupsOf(
  problem: IndexedProblem,
  lot: number,
  after: Arrangement,
  racks: ReadonlyMap<string, PlacementRack>,
): SlotGroup[] {
  const groups = new Map<string, SlotGroup>();
  for (const [i, slot] of problem.slots.entries()) {
    const rack = racks.get(slot.rackId);
    if (rack === undefined || !slot.open || after[i] !== -1) continue;
    const mask = problem.brokenLimitsWithNeighbours(lot, [i], after, false);
    if (mask === 0) continue;
    const key = `${slot.rackId} ${mask}`;
    const group = groups.get(key) ?? { rack, mask, slots: [] };
    group.slots.push(slot);
    groups.set(key, group);
  }
  return [...groups.values()];
}

const countTaken = (problem: IndexedProblem, lot: number, after: Arrangement) =>
  problem.slots.filter(
    (slot, i) =>
      slot.open && (after[i] ?? -1) >= 0 && after[i] !== lot && problem.brokenLimits(lot, [i], false) === 0,
  ).length;

function needsWords({ care, quarantine }: PlanLot, needs: Needs): string {
  const most = Math.min(needs.parCeiling, needs.parHigh);
  const low = care.parLow === null ? '' : `from ${numberWords(Math.round(needs.parLow))} `;
  const light = Number.isFinite(most)
    ? `light ${low}to ${numberWords(Math.round(most))}`
    : 'light it tolerates';
  const step =
    care.accustomed === null || care.stepRatio === null
      ? ''
      : ` and at most ${numberWords(care.stepRatio)} times ${dailyLightOf(care)}`;
  return `${light}${step}, ${flowsWords(care)} flow${quarantine ? ', in a quarantine tank' : ''}`;
}

function changeWords({ rack, mask, slots }: SlotGroup, needs: Needs): string[] {
  const many = `${plural(slots.length, 'slot', 'slots')} on ${rack.name}`;
  if (breaksOnly(mask, 'jet'))
    return [`${many} would do if no jet struck ${slots.length === 1 ? 'it' : 'them'}.`];
  if ((mask & (LIMITS.step | LIMITS.ceiling)) !== 0)
    return [`${many} would do ${dimmingWords(rack, slots, needs)}.`];
  const [limit] = limitsIn(mask);
  const change = limit === undefined ? undefined : changeByLimit[limit];
  return change === undefined ? [] : [`${many} would do ${change}.`];
}

const changeByLimit: Partial<Record<Limit, string>> = {
  unmeasured: 'perhaps: the light there was never measured',
  dim: 'if it were brighter there',
  flow: 'if the flow were otherwise',
  base: 'on another base',
  quarantine: 'if lots in quarantine could be with others, which they must not',
  size: 'for a smaller piece',
  reach: 'if the neighbours were further away',
};

/** How far the lamps must be dimmed until the dimmest of these slots would do. */
function dimmingWords(rack: PlacementRack, slots: readonly PlanSlot[], needs: Needs): string {
  const parts = slots.flatMap(({ light }) => {
    if (light === null) return [];
    const sure = light.par === 0 ? 1 : 1 + light.error / light.par;
    return [Math.min(needs.parCeiling / (light.par * sure), needs.dliLimit / (light.dli * sure))];
  });
  const part = Math.max(...parts);
  const percent = rack.lampPercent === null ? null : Math.floor(rack.lampPercent * part);
  if (rack.lampName === null || percent === null || part < LEAST_DIMMING)
    return 'if it were dimmer there, or after an acclimation in steps';
  const from = numberWords(rack.lampPercent as number);
  return `if the lamps ${rack.lampName} were at ${percent} % instead of ${from} %, or after an acclimation in steps`;
}

/** Where every free slot breaks several limits: those that most of them break. */
function mostBroken(groups: readonly SlotGroup[]): string[] {
  const slots = groups.reduce((sum, group) => sum + group.slots.length, 0);
  if (slots === 0) return ['No slot on these racks is free.'];
  const counts = (Object.keys(LIMITS) as Limit[]).map((limit) => ({
    limit,
    count: groups.reduce(
      (sum, { mask, slots: some }) => sum + ((mask & LIMITS[limit]) === 0 ? 0 : some.length),
      0,
    ),
  }));
  const shown = counts
    .filter(({ count }) => count > 0)
    .sort((a, b) => b.count - a.count)
    .slice(0, MOST_SHOWN)
    .map(({ limit, count }) => `${limitNames[limit]} at ${count}`);
  return [`Of ${plural(slots, 'free slot', 'free slots')}: ${shown.join(', ')}.`];
}

const limitNames: Record<Limit, string> = {
  unmeasured: 'light never measured',
  ceiling: 'light above its ceiling',
  step: 'too large a step of light',
  dim: 'far too dim',
  flow: 'flow unsuited',
  jet: 'a jet',
  base: 'another base',
  quarantine: 'kept apart or not',
  size: 'too small a slot',
  emptied: 'to be emptied',
  reach: 'a neighbour in reach',
};

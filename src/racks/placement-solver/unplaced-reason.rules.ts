import { numberWords, plural } from '../../platform/words/numbers.ts';
import type { Arrangement, Board } from './board.rules.ts';
import { LIMITS, type Limit, limitsIn, type Needs, type PlanLot, type PlanSlot } from './slot-fit.rules.ts';
import { flowsWords, only } from './words.rules.ts';

/** What is known of a rack besides its slots. */
export interface PlanRack {
  id: string;
  name: string;
  lampName: string | null;
  /** What its lamps stand at; null where that is not noted. */
  lampPercent: number | null;
}

interface Miss {
  rack: PlanRack;
  mask: number;
  slots: PlanSlot[];
}

/** The most near misses that are told of one lot. */
const TOLD = 3;
/** Lamps are not planned below this part of what they stand at: what stands under them would starve (own choice). */
const LEAST_TURN = 0.4;

/**
 * Why a lot fits nowhere, and what would have to change: what was looked for, then the slots that fail by one thing
 * alone, rack by rack ("3 slots on N2 would do if no jet struck them").
 */
export function nearestMiss(
  board: Board,
  lot: number,
  after: Arrangement,
  racks: ReadonlyMap<string, PlanRack>,
): string[] {
  const misses = missesOf(board, lot, after, racks);
  const taken = takenBy(board, lot, after);
  const planLot = board.lot(lot);
  const needs = board.needs[lot] as Needs;
  const sought = `No free slot on these racks suits it: ${soughtWords(planLot, needs)}.`;
  const near = misses
    .filter(({ mask }) => limitsIn(mask).length === 1)
    .sort((a, b) => b.slots.length - a.slots.length)
    .slice(0, TOLD)
    .flatMap((miss) => changeWords(miss, needs));
  const full =
    taken === 0
      ? []
      : [
          `${plural(taken, 'slot that suits is', 'slots that suit are')} taken by lots that stand well or stay.`,
        ];
  const none = near.length + full.length > 0 ? [] : commonest(misses);
  return [sought, ...full, ...near, ...none];
}

function missesOf(
  board: Board,
  lot: number,
  after: Arrangement,
  racks: ReadonlyMap<string, PlanRack>,
): Miss[] {
  const groups = new Map<string, Miss>();
  for (const [i, slot] of board.slots.entries()) {
    const rack = racks.get(slot.rackId);
    if (rack === undefined || !slot.open || after[i] !== -1) continue;
    const mask = board.wrongAt(lot, [i], after, false);
    if (mask === 0) continue;
    const key = `${slot.rackId} ${mask}`;
    const group = groups.get(key) ?? { rack, mask, slots: [] };
    group.slots.push(slot);
    groups.set(key, group);
  }
  return [...groups.values()];
}

const takenBy = (board: Board, lot: number, after: Arrangement) =>
  board.slots.filter(
    (slot, i) =>
      slot.open && (after[i] ?? -1) >= 0 && after[i] !== lot && board.broken(lot, [i], false) === 0,
  ).length;

function soughtWords({ care, quarantine }: PlanLot, needs: Needs): string {
  const most = Math.min(needs.parCeiling, needs.parHigh);
  const low = care.parLow === null ? '' : `from ${numberWords(Math.round(needs.parLow))} `;
  const light = Number.isFinite(most) ? `light ${low}to ${numberWords(Math.round(most))}` : 'light it bears';
  const step =
    care.accustomed === null || care.stepRatio === null
      ? ''
      : ` and at most ${numberWords(care.stepRatio)} times the daily light it is used to`;
  return `${light}${step}, ${flowsWords(care)} flow${quarantine ? ', in a quarantine tank' : ''}`;
}

function changeWords({ rack, mask, slots }: Miss, needs: Needs): string[] {
  const many = `${plural(slots.length, 'slot', 'slots')} on ${rack.name}`;
  if (only(mask, 'jet')) return [`${many} would do if no jet struck ${slots.length === 1 ? 'it' : 'them'}.`];
  if ((mask & (LIMITS.step | LIMITS.ceiling)) !== 0)
    return [`${many} would do ${dimmer(rack, slots, needs)}.`];
  const [limit] = limitsIn(mask);
  const said = limit === undefined ? undefined : otherChanges[limit];
  return said === undefined ? [] : [`${many} would do ${said}.`];
}

const otherChanges: Partial<Record<Limit, string>> = {
  unmeasured: 'perhaps: the light there was never measured',
  dim: 'if it were brighter there',
  flow: 'if the flow were otherwise',
  base: 'on another base',
  quarantine: 'if lots kept apart and others could stand together, which they may not',
  size: 'for a smaller piece',
  reach: 'if the neighbours stood further away',
};

/** Lamps turned down so far that the dimmest of these slots would do. */
function dimmer(rack: PlanRack, slots: readonly PlanSlot[], needs: Needs): string {
  const parts = slots.flatMap(({ light }) => {
    if (light === null) return [];
    const sure = light.par === 0 ? 1 : 1 + light.error / light.par;
    return [Math.min(needs.parCeiling / (light.par * sure), needs.mostDli / (light.dli * sure))];
  });
  const part = Math.max(...parts);
  const percent = rack.lampPercent === null ? null : Math.floor(rack.lampPercent * part);
  if (rack.lampName === null || percent === null || part < LEAST_TURN)
    return 'if it were dimmer there, or after an acclimation in steps';
  const from = numberWords(rack.lampPercent as number);
  return `if the lamps ${rack.lampName} stood at ${percent} % instead of ${from} %, or after an acclimation in steps`;
}

/** Where no slot fails by one thing alone: what most of them fail by. */
function commonest(misses: readonly Miss[]): string[] {
  const slots = misses.reduce((sum, miss) => sum + miss.slots.length, 0);
  if (slots === 0) return ['No slot on these racks is free.'];
  const counts = (Object.keys(LIMITS) as Limit[]).map((limit) => ({
    limit,
    count: misses.reduce(
      (sum, { mask, slots: some }) => sum + ((mask & LIMITS[limit]) === 0 ? 0 : some.length),
      0,
    ),
  }));
  const told = counts
    .filter(({ count }) => count > 0)
    .sort((a, b) => b.count - a.count)
    .slice(0, TOLD)
    .map(({ limit, count }) => `${shortly[limit]} at ${count}`);
  return [`Of ${plural(slots, 'free slot', 'free slots')}: ${told.join(', ')}.`];
}

const shortly: Record<Limit, string> = {
  unmeasured: 'light never measured',
  ceiling: 'light above its ceiling',
  step: 'too much more light than it is used to',
  dim: 'far too dim',
  flow: 'flow unsuited',
  jet: 'a jet',
  base: 'another base',
  quarantine: 'kept apart or not',
  size: 'too small a slot',
  emptied: 'to be emptied',
  reach: 'a neighbour in reach',
};

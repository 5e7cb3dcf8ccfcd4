import type { ConditionState } from '../../generated/prisma/enums.ts';
import { dateWords } from '../../platform/words/times.ts';
import { dayMs } from '../../science/numeric/time.ts';
import type { Member } from '../../science/scan.ts';

/** What is looked for: lots that went pale, that lost flesh or pieces, that lost pieces, or any of these. */
export const SIGNS = ['any', 'pale', 'flesh', 'dead'] as const;
export type Sign = (typeof SIGNS)[number];

const statesOf: Readonly<Record<Sign, readonly ConditionState[]>> = {
  any: ['paling', 'bleached', 'receding', 'lost'],
  pale: ['paling', 'bleached'],
  flesh: ['receding', 'lost'],
  dead: ['lost'],
};

/** A lot as it is compared: what never changes about it. */
export interface ComparedLot {
  id: string;
  code: string;
  kind: string;
  group: string;
  origin: string;
  /** The lot it was cut or split from, when, and by whom; '' and null where it came whole. */
  mother: string;
  cutAt: Date | null;
  cutBy: string;
  arrivedAt: Date;
}

/** Where a lot stood from when to when. */
export interface ComparedStay {
  lotId: string;
  from: Date;
  to: Date | null;
  slotId: string;
  rackId: string;
  rack: string;
  tank: string;
  systemId: string;
  system: string;
  flow: string | null;
  lampId: string | null;
  movedBy: string;
  /** Whether it came from another place of the farm. */
  isMove: boolean;
}

/** All that is compared, as plain rows of one site. */
export interface Comparing {
  since: Date;
  now: Date;
  /** The site's, for the days in names. */
  timeZone: string;
  lots: readonly ComparedLot[];
  stays: readonly ComparedStay[];
  /** Looks since some weeks before the window, oldest first; deaths among them as "lost". */
  looks: readonly { lotId: string; at: Date; state: ConditionState }[];
  /** Lots that somebody looked at within the window, by a look of their own or with their rack. */
  lookedAt: ReadonlySet<string>;
  lamps: readonly { lampId: string; name: string; at: Date; percent: number }[];
  baths: readonly { lotId: string; at: Date; product: string }[];
  /** What was done to whole waters: events, large changes, things switched off. */
  works: readonly { systemId: string; at: Date; text: string }[];
  kits: readonly { systemId: string; label: string }[];
  /** PAR of slots at the time compared, umol/(m2 s). */
  light: ReadonlyMap<string, number>;
}

/** A lot in the comparison, with where it stood when it is compared. */
export interface ComparedMember extends Member {
  lotId: string;
  code: string;
  systemId: string;
  rackId: string;
  slotId: string;
  lampId: string | null;
  /** When it was first seen so; null where it was not. */
  firstSeen: Date | null;
}

/**
 * A move within a day before the first sign may be the rescue itself: what is compared is where the lot stood a day before
 * (own choice).
 */
const rescueMs = dayMs;
/** What changed within so many days before counts as a change it may go back to (own choice; growers look back a month). */
const changeMs = 30 * dayMs;

/** Upper edges of bands of light, PAR in umol/(m2 s): own choice, each about one and a half times the last. */
const lightEdges = [50, 80, 120, 180, 270, 400];

/** The band that a light falls in. */
export function lightBand(par: number): string {
  const above = lightEdges.findIndex((edge) => par < edge);
  if (above === 0) return `below ${lightEdges[0]} PAR`;
  return above === -1
    ? `${lightEdges.at(-1)} PAR and more`
    : `${lightEdges[above - 1]} to ${lightEdges[above]} PAR`;
}

/**
 * The first sign of each lot within the window. A lot that was so before and has not been well since is left out of the
 * comparison: what made it ill lies before.
 * @returns when each was first seen so, and those that were so before
 */
export function firstSigns(
  { looks, since }: Pick<Comparing, 'looks' | 'since'>,
  sign: Sign,
): { first: Map<string, Date>; before: Set<string> } {
  const [first, before] = [new Map<string, Date>(), new Set<string>()];
  const states = statesOf[sign];
  for (const { lotId, at, state } of looks) {
    if (at < since) {
      if (states.includes(state)) before.add(lotId);
      else if (state === 'well') before.delete(lotId);
    } else if (states.includes(state) && !before.has(lotId) && !first.has(lotId)) first.set(lotId, at);
  }
  return { first, before };
}

/** From when on nothing counts as a cause any more: the first sign of any lot; null where there is none. */
export function firstOfAll(comparing: Pick<Comparing, 'looks' | 'since'>, sign: Sign): Date | null {
  const { first } = firstSigns(comparing, sign);
  return first.size === 0 ? null : new Date(Math.min(...[...first.values()].map((at) => at.getTime())));
}

/**
 * The lots that are compared, affected or not, each with the groups it belonged to before its first sign; one that was not
 * affected with those it had at the first sign of all. Lots that nobody looked at are left out: nothing is known of them.
 */
export function membersOf(comparing: Comparing, sign: Sign): ComparedMember[] {
  const { first, before } = firstSigns(comparing, sign);
  const all = firstOfAll(comparing, sign);
  if (all === null) return [];
  const stays = Map.groupBy(comparing.stays, ({ lotId }) => lotId);
  const day = (moment: Date) => dateWords(moment, comparing.timeZone);
  const baths = Map.groupBy(comparing.baths, ({ lotId }) => lotId);
  return comparing.lots.flatMap((lot) => {
    const firstSeen = first.get(lot.id) ?? null;
    if (before.has(lot.id) || (firstSeen === null && !comparing.lookedAt.has(lot.id))) return [];
    const at = firstSeen ?? all;
    const stay = stayAt(stays.get(lot.id) ?? [], at);
    if (stay === null) return [];
    const bath = (baths.get(lot.id) ?? []).findLast((one) => isJustBefore(one.at, at));
    const { systemId, rackId, slotId, lampId } = stay;
    return {
      ...{ lotId: lot.id, code: lot.code, systemId, rackId, slotId, lampId, firstSeen },
      affected: firstSeen !== null,
      groups: {
        ...placeGroups(stay, comparing),
        ...ownGroups(lot, stay, at, day),
        ...changeGroups(stay, comparing, at, day),
        bath: bath && `${bath.product}, ${day(bath.at)}`,
      },
    };
  });
}

const isJustBefore = (what: Date, at: Date) => what < at && at.getTime() - what.getTime() <= changeMs;

/** Where it stood a day before; where it came later than that, where it came to. Oldest first. */
function stayAt(stays: readonly ComparedStay[], at: Date): ComparedStay | null {
  const asked = at.getTime() - rescueMs;
  const there = stays.findLast(
    ({ from, to }) => from.getTime() <= asked && (to === null || to.getTime() > asked),
  );
  return there ?? stays.find(({ from, to }) => from <= at && (to === null || to >= at)) ?? null;
}

function placeGroups(stay: ComparedStay, { light, kits }: Comparing): Member['groups'] {
  const par = light.get(stay.slotId);
  return {
    system: stay.system,
    tank: `${stay.tank} (${stay.system})`,
    rack: `${stay.rack} (${stay.tank})`,
    light: par === undefined ? null : lightBand(par),
    flow: stay.flow,
    kit: kits.find(({ systemId }) => systemId === stay.systemId)?.label,
  };
}

type DayOf = (moment: Date) => string;

function ownGroups(lot: ComparedLot, stay: ComparedStay, at: Date, day: DayOf): Member['groups'] {
  const cut = lot.cutAt !== null && lot.cutAt < at ? lot.cutAt : null;
  return {
    kind: lot.kind,
    group: lot.group === lot.kind ? null : lot.group,
    origin: lot.mother === '' && lot.origin !== '' ? lot.origin : null,
    delivery: lot.mother === '' && lot.origin !== '' ? `${lot.origin}, ${day(lot.arrivedAt)}` : null,
    mother: lot.mother === '' ? null : lot.mother,
    'cut batch': cut === null || lot.mother === '' ? null : `${lot.mother}, ${day(cut)}`,
    'cut by': cut === null || lot.cutBy === '' ? null : lot.cutBy,
    'moved by': stay.isMove && isJustBefore(stay.from, at) ? stay.movedBy || null : null,
  };
}

function changeGroups(
  stay: ComparedStay,
  { lamps, works }: Comparing,
  at: Date,
  day: DayOf,
): Member['groups'] {
  const lamp = lamps.findLast((one) => one.lampId === stay.lampId && isJustBefore(one.at, at));
  const work = works.findLast((one) => one.systemId === stay.systemId && isJustBefore(one.at, at));
  return {
    lamps:
      lamp === undefined ? null : `${lamp.name}, set to ${Math.round(lamp.percent)} % on ${day(lamp.at)}`,
    moved: stay.isMove && isJustBefore(stay.from, at) ? `moved on ${day(stay.from)}` : null,
    water: work === undefined ? null : `${stay.system}: ${work.text}, ${day(work.at)}`,
  };
}

import type {
  Base,
  Comparison,
  ConditionState,
  EquipmentKind,
  Flow,
  OffThing,
} from '../../generated/prisma/enums.ts';
import type { SilentDevice } from '../../intake/mqtt/devices.ts';
import { dateAtDay } from '../../science/numeric/time.ts';
import type { LossHistory } from '../../stock/losses/usual.rules.ts';
import type { WatchState } from '../../stock/pests/state.ts';
import type { RackShots } from '../../stock/rack-photographs/measures.ts';
import type { KitRecord } from '../../water/kits/bias.rules.ts';
import type {
  ChangeFact,
  DoseFact,
  DoubtedSource,
  EventFact,
  KeptFact,
  LeftFact,
  LookedFact,
  ReadingFact,
  TemperatureFact,
} from '../../water/record/types.ts';
import type { ProbeDoubt, ProbeTrace } from '../../water/trust/probe-doubt.rules.ts';
import type { SharedResult } from '../affected/result.rules.ts';

export type {
  ChangeFact,
  DoseFact,
  DoubtedSource,
  EventFact,
  KeptFact,
  LeftFact,
  LookedFact,
  ReadingFact,
  TemperatureFact,
} from '../../water/record/types.ts';

// Facts are plain data: times as days since 1970 (`day`) beside ISO text (`at`) for people, values in canonical units.

/** How a quantity is written by this farm. */
export interface QuantityFact {
  code: string;
  name: string;
  canonicalUnit: string;
  displayUnit: string;
  decimals: number;
  /** The usual range, canonical. */
  plausibleLow: number;
  plausibleHigh: number;
}

/** A logged feeding; `tankId` null (and no name) where it went to the whole system. */
export interface FeedingFact {
  id: string;
  day: number;
  at: string;
  tankId: string | null;
  tankName: string;
  food: string;
}

/** Something switched off, opened or put out of force for now; `onDay` null while nobody has seen it running again. */
export interface SwitchedOffFact {
  id: string;
  day: number;
  at: string;
  dueDay: number;
  lateDay: number;
  onDay: number | null;
  thing: OffThing;
  what: string;
  why: string;
  onReturn: string;
  equipmentId: string | null;
  /** Taken off the books since. */
  removed?: boolean;
  /** The feeding it was done for. */
  feedingId: string | null;
  tankId: string | null;
  tankName: string;
  /** Who looks after it; empty where that is not known. */
  keeper: string;
}

/** Something wrong with equipment, as somebody saw it; `mendedDay` null until somebody says that it is mended. */
export interface FaultFact {
  id: string;
  day: number;
  at: string;
  mendedDay: number | null;
  seen: string;
  /** Null (and no name or kind) where the books do not have it. */
  equipmentId: string | null;
  equipment: string;
  kind: EquipmentKind | null;
  by: string;
  /** Nobody saw anything: the check that would have shown it was left out. */
  leftOut: boolean;
}

/** A look at the system that somebody asked for; `doneDay` null until somebody has looked. */
export interface LookFact {
  id: string;
  day: number;
  at: string;
  dueDay: number;
  doneDay: number | null;
  title: string;
  detail: string;
  href: string;
  urgent: boolean;
}

/** Work that comes again every so many days, and when something of the kind was last logged. */
export interface RoutineFact {
  id: string;
  work: 'test' | 'water_change' | 'dose' | 'feeding';
  quantityCode: string | null;
  /** What it is, to go on in a sentence: "alkalinity test", "water change". */
  words: string;
  everyDays: number;
  /** ISO weekdays it falls on; none where it comes every so many days. */
  weekdays: readonly number[];
  startsDay: number;
  lastDay: number | null;
}

/** A correction that runs, or ended within the history. Days are local midnights, of what was done its time. */
export interface CorrectionFact {
  id: string;
  quantityCode: string;
  substance: string;
  fromDay: number;
  toDay: number | null;
  fromValue: number;
  target: number;
  dailyCap: number;
  steps: { id: string; dueDay: number; expectedAfter: number; retest: boolean; doneDay: number | null }[];
}

/** A probe that reports by itself; it belongs to the system it last reported of. */
export interface ProbeFact {
  kitId: string;
  label: string;
  quantityCode: string;
  everyMinutes: number;
  /** Standard uncertainty at its last value. */
  u: number;
  lastDay: number | null;
  /** Values kept and refused as impossible today and the day before (UTC). */
  taken: number;
  rejected: number;
  /** The last 48 hours, oldest first, thinned evenly to at most 600. */
  samples: { day: number; value: number }[];
}

/** A probe with what it showed; `doubt` null where its values count. */
export interface ProbeVote {
  trace: ProbeTrace;
  doubt: ProbeDoubt | null;
}

/** A water under watch for a pest, with what was seen, treated and brought in. */
export type PestFact = WatchState;

/** A kit in use, with all that hints at its bias. It belongs to the system in which it was first used. */
export interface KitFact {
  id: string;
  label: string;
  quantityCode: string;
  methodName: string;
  /** Standard uncertainty of a reading at its last value, at the middle of the band where it has none yet. */
  u: number;
  openedDay: number;
  openedAt: string;
  /** When it was put away; such a kit is only told of where the past is judged. */
  retiredDay?: number | null;
  expiresDay: number | null;
  /** How many tests it is good for (null: nobody counts), and how many were made with it, checks included. */
  uses: number | null;
  used: number;
  laboratory: boolean;
  /** Reports by itself. */
  probe: boolean;
  checks: { id: string; day: number; at: string; standard: number; value: number; u: number }[];
  /** One water by the kit before and by this one, with the uncertainty of a test. */
  pairs?: readonly { day: number; other?: string; old: number; value: number; u: number }[];
  /** Readings of its quantity, by any kit, in every system it is used in. */
  systems: { systemId: string; name: string; firstDay: number; readings: readonly ReadingFact[] }[];
  /** The readings about its first use, by which it is judged; left out where the past is, of which `systems` tells. */
  openings?: KitRecord['systems'];
}

/** A bottle that is not put away, whether or not it was used yet; farm-wide, since bottles belong to no system. */
export interface OpenedKitFact {
  id: string;
  label: string;
  quantityCode: string;
  openedDay: number;
}

/** A kit put away of late that was used in the system until then, and the farm's other kits for its quantity. */
export interface KitPutAwayFact {
  id: string;
  label: string;
  quantityCode: string;
  day: number;
  at: string;
  /** Newest first; `tested`: its checks of a standard and its tests beside another kit. */
  others: readonly { id: string; label: string; openedDay: number; tested: number; usedHere: boolean }[];
}

export interface ConditionFact {
  id: string;
  day: number;
  at: string;
  state: ConditionState;
  grade: number | null;
  /** Against the look before; null where nobody said. "As before" is no word of health. */
  compared: Comparison | null;
  note: string;
}

/** A piece of constant light a lot lived in, umol/(m2 s) at full light and mol/(m2 d). */
export interface LightFact {
  fromDay: number;
  par: number;
  dli: number;
  error: number;
  estimated: boolean;
}

/** What a lot's care says of where it may stand, and where each figure comes from; null: nobody states it. */
export interface PlaceCareFact {
  ceiling: { par: number; source: string } | null;
  stepRatio: { ratio: number; source: string } | null;
  adaptationDays: { days: number; source: string } | null;
  /** Light it is kept at, umol/(m2 s); the figure that is below the ceiling. */
  range: { low: number | null; high: number | null; source: string } | null;
  /** Flow classes it is kept in, 0 still to 3 high. */
  flow: { low: number; high: number; source: string } | null;
  /** What is said of a jet, and of what it stands on. */
  jet: { words: string; source: string } | null;
  base: { words: string; source: string } | null;
  /** How far it reaches a neighbour. */
  reach: { mm: number; source: string } | null;
  /** Nitrate it is kept at, mg/L as NO3. */
  nitrate: { low: number | null; high: number | null; source: string } | null;
}

/** Care of which nothing is known. */
export const unknownCare: PlaceCareFact = Object.freeze({
  ceiling: null,
  stepRatio: null,
  adaptationDays: null,
  range: null,
  flow: null,
  jet: null,
  nitrate: null,
  base: null,
  reach: null,
});

/** A planned, stepwise change of light that a lot is in the middle of. Daily light in mol/(m2 d). */
export interface AcclimationFact {
  id: string;
  name: string;
  purpose: 'brighter' | 'dimmer' | 'recovery';
  startsDay: number;
  paused: boolean;
  /** What the lot came accustomed to, by what is known of the light it had before. */
  fromDli: number;
  targetDli: number;
  maxStepRatio: number;
  /** Of this lot or the lamps above it, in order; days are local midnights. */
  steps: { dueDay: number; dli: number; doneDay: number | null }[];
}

/** Where a lot stands on its rack. */
export interface CellFact {
  row: number;
  column: number;
}

export interface LotFact {
  id: string;
  code: string;
  /** The farm's own code for it, else its trade name; '' where it has neither. */
  ownName: string;
  pieces: number;
  kindName: string;
  /** The kind and what it gets, nearest first: settings inherit along it. */
  kindIds: string[];
  /** Where it stands: "N3, B4" and the lamps above, if any. */
  place: string;
  placementId: string;
  placedAt: string;
  placedDay: number;
  /** Of several racks the first one, and its cells there. */
  rackId: string;
  cells: readonly CellFact[];
  /** Size of a piece. */
  sizeMm: number | null;
  /** The lot it was cut or split from. */
  parentId: string | null;
  lampId: string | null;
  /** Of the place: of several slots the first one's flow (null: not known) and base; a jet on any. */
  flow: Flow | null;
  jet: boolean;
  base: Base;
  depthMm: number;
  /** All the light it lived in, that of the lots it was cut from before its own; oldest first. */
  light: LightFact[];
  care: PlaceCareFact;
  /** Newest first. */
  conditions: ConditionFact[];
  /** When it was last cut, or cut from another; null where it never was here. */
  cutDay: number | null;
  acclimation: AcclimationFact | null;
}

/** A lot that lost flesh when it was taken out of the water, or died there. */
export interface GoneLotFact
  extends Pick<
    LotFact,
    'id' | 'code' | 'ownName' | 'kindName' | 'parentId' | 'place' | 'conditions' | 'cutDay'
  > {
  leftDay: number;
}

export interface LampFact {
  id: string;
  name: string;
  tankName: string;
  /** Oldest first. */
  settings: { id: string; day: number; at: string; percent: number; note: string }[];
}

/** A survey of one rack, by its mean; `percent` is the lamps' setting it was made at. */
export interface SurveyFact {
  id: string;
  day: number;
  at: string;
  percent: number | null;
  meter: string;
  /** Mean over the rack's slots, umol/(m2 s). */
  par: number;
}

export interface RackFact {
  id: string;
  name: string;
  tankName: string;
  tankHeightMm: number | null;
  lampId: string | null;
  depthMm: number;
  /** From slot to slot along a row and from row to row; null where nobody measured it. */
  slotWidthMm: number | null;
  slotDepthMm: number | null;
  /** Since when it hangs as it does (depth, tank, lamps); null where that was never noted. */
  standsDay: number | null;
  /** The last few, oldest first. */
  surveys: readonly SurveyFact[];
}

/** All that the rules know of one system. */
export interface SystemFacts {
  systemId: string;
  siteId: string;
  name: string;
  timeZone: string;
  volumeL: number;
  retired: boolean;
  /** Somebody says that no water is changed here. */
  neverChanged?: boolean;
  quantities: ReadonlyMap<string, QuantityFact>;
  kept: ReadonlyMap<string, KeptFact>;
  /** Oldest first, by quantity. */
  readings: ReadonlyMap<string, readonly ReadingFact[]>;
  changes: readonly ChangeFact[];
  doses: readonly DoseFact[];
  /** Since 60 days. */
  feedings: readonly FeedingFact[];
  /** What is off for now, and what ran again within 60 days. */
  switchedOff: readonly SwitchedOffFact[];
  faults: readonly FaultFact[];
  looks: readonly LookFact[];
  /** Since 400 days. */
  events: readonly EventFact[];
  /** Pieces sold or lost, and looks into the containers of dosers, since 400 days. */
  left: readonly LeftFact[];
  looked: readonly LookedFact[];
  routines: readonly RoutineFact[];
  corrections: readonly CorrectionFact[];
  probes: readonly ProbeFact[];
  /** Devices that are silent by their last will, where they are told here; the longest silent first. */
  silentDevices: readonly SilentDeviceFact[];
  /** What each probe showed in ten days, sent or read off, and why it has no vote where it has none. */
  probeVotes: readonly ProbeVote[];
  /** How the systems of its site moved in the last day; empty where the past is judged. */
  siteMoves: readonly MoveFact[];
  /** All that have none, those that say nothing any more among them. */
  doubted: readonly DoubtedSource[];
  /** Since 120 days, oldest first. */
  temperatures: readonly TemperatureFact[];
  tanks: readonly { id: string; name: string }[];
  /** Kits that belong to this system, and those of others that read its water. */
  kits: readonly KitFact[];
  visitingKits: readonly KitFact[];
  /** Every bottle of the farm that is not put away, the newest first; left out where nothing goes by it. */
  openedKits?: readonly OpenedKitFact[];
  /** Within 60 days. */
  kitsPutAway: readonly KitPutAwayFact[];
  lots: readonly LotFact[];
  /** Those that lost flesh when they left it within two weeks; empty where the past is judged. */
  goneLots: readonly GoneLotFact[];
  /** The pests for which its water, or that of a tank of it, is under watch. */
  pests: readonly PestFact[];
  /** Which lots stood here within 400 days, and which of them lost pieces. */
  losses: LossHistory;
  /** What the affected lots of the site share, by sign, where most of them stood here. */
  shared: readonly SharedFact[];
  /** Of its racks, within 200 days; empty where the past is judged. */
  photographs: readonly RackShots[];
  lamps: readonly LampFact[];
  /** Those with slots that lots stand on, or could. */
  racks: readonly RackFact[];
}

/** A device whose last will came and that has not been heard since; `since` is ISO 8601. */
export interface SilentDeviceFact extends Pick<SilentDevice, 'topic' | 'probes'> {
  since: string;
  sinceDay: number;
}

/** What affected lots share, as it was found at a time (ISO 8601). */
export interface SharedFact extends SharedResult {
  at: string;
}

/** The newest value of a quantity in one system, and those of the same hour on the days before; canonical. */
export interface MoveFact {
  systemId: string;
  siteId: string;
  name: string;
  code: string;
  readingId: string;
  day: number;
  at: string;
  value: number;
  u: number;
  /** Its values of the same hour on the ten days before, the newest first. */
  before: readonly number[];
  kitId: string | null;
  kitLabel: string;
  probe: boolean;
  /** When its instrument was last in a standard. */
  checkedDay: number | null;
  /** The circuits that equipment of the system hangs on. */
  circuits: readonly string[];
}

/** The moment of such a day. */
export const momentOfDay = (day: number): Date => dateAtDay(day);

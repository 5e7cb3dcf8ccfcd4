import type pg from 'pg';
import type { Mark } from '../../platform/database/marks.ts';
import { loadKept } from '../../water/record/kept.ts';
import { loadLeft } from '../../water/record/left.ts';
import { loadLooked } from '../../water/record/looked.ts';
import { loadChanges, loadDoses, loadEvents } from '../../water/record/record.ts';
import type { Span } from '../../water/record/span.ts';
import { loadTemperatures } from '../../water/record/temperatures.ts';
import { loadCorrections } from './corrections.ts';
import { loadFaults, loadLooks, loadSwitchedOff } from './equipment.ts';
import { loadFeedings } from './feedings.ts';
import { loadKitsPutAway } from './kits.ts';
import { loadGoneLots, loadLosses } from './losses.ts';
import { loadLamps, loadLots } from './lots.ts';
import { loadPests } from './pests.ts';
import { loadSilentDevices } from './probes.ts';
import { loadPhotographs, loadRacks } from './racks.ts';
import { loadRoutines } from './routines.ts';
import { loadShared } from './shared.ts';
import { loadTanks } from './systems.ts';
import type { SystemFacts } from './types.ts';

/** A part of a system's facts that is loaded as one, and again when one of the marks named is seen. */
interface Part<Value> {
  load(pool: pg.Pool, systemIds: readonly string[], span: Span): Promise<Map<string, Value>>;
  none: Value;
  staleBy: readonly string[];
}

type Parted = Pick<
  SystemFacts,
  | 'kept'
  | 'changes'
  | 'doses'
  | 'feedings'
  | 'switchedOff'
  | 'faults'
  | 'looks'
  | 'events'
  | 'routines'
  | 'corrections'
  | 'temperatures'
  | 'tanks'
  | 'lots'
  | 'goneLots'
  | 'pests'
  | 'losses'
  | 'shared'
  | 'silentDevices'
  | 'photographs'
  | 'lamps'
  | 'racks'
  | 'kitsPutAway'
  | 'left'
  | 'looked'
>;

/** The name of a part. */
export type PartName = keyof Parted;

/** The parts of a system's facts but its readings, kits and probes; marks are named in the triggers that leave them. */
export const parts: { readonly [Name in PartName]: Part<Parted[Name]> } = {
  kept: { load: loadKept, none: new Map(), staleBy: ['kept'] },
  changes: { load: loadChanges, none: [], staleBy: ['water_change', 'correction'] },
  doses: { load: loadDoses, none: [], staleBy: ['dose', 'equipment'] },
  left: { load: loadLeft, none: [], staleBy: ['lot', 'place'] },
  looked: { load: loadLooked, none: [], staleBy: ['container_level', 'dose', 'equipment', 'place'] },
  feedings: { load: loadFeedings, none: [], staleBy: ['feeding', 'place'] },
  switchedOff: { load: loadSwitchedOff, none: [], staleBy: ['switched_off', 'equipment', 'place'] },
  faults: { load: loadFaults, none: [], staleBy: ['fault', 'equipment'] },
  looks: { load: loadLooks, none: [], staleBy: ['look'] },
  events: { load: loadEvents, none: [], staleBy: ['system_event'] },
  routines: {
    load: loadRoutines,
    none: [],
    staleBy: ['routine', 'reading', 'water_change', 'dose', 'feeding', 'correction'],
  },
  corrections: { load: loadCorrections, none: [], staleBy: ['correction'] },
  temperatures: { load: loadTemperatures, none: [], staleBy: ['reading of temperature'] },
  tanks: { load: loadTanks, none: [], staleBy: ['place'] },
  lots: { load: loadLots, none: [], staleBy: ['lot', 'place'] },
  goneLots: { load: loadGoneLots, none: [], staleBy: ['lot', 'place'] },
  pests: { load: loadPests, none: [], staleBy: ['pest', 'lot', 'place'] },
  losses: { load: loadLosses, none: { stays: [], deaths: [] }, staleBy: ['lot', 'place'] },
  shared: { load: loadShared, none: [], staleBy: ['scan'] },
  silentDevices: { load: loadSilentDevices, none: [], staleBy: ['device', 'kit'] },
  photographs: { load: loadPhotographs, none: [], staleBy: ['photograph', 'place'] },
  lamps: { load: loadLamps, none: [], staleBy: ['place'] },
  racks: { load: loadRacks, none: [], staleBy: ['place'] },
  kitsPutAway: { load: loadKitsPutAway, none: [], staleBy: ['kit', 'reading'] },
};

/** The names of all parts. */
export const partNames = Object.keys(parts) as PartName[];

/** The parts that no longer hold by a mark. */
export const staleParts = ({ part, code }: Mark): PartName[] =>
  partNames.filter((name) =>
    parts[name].staleBy.some((mark) => mark === part || (code !== null && mark === `${part} of ${code}`)),
  );

import type { Severity } from '../../generated/prisma/enums.ts';
import type { StandingCell } from '../../stock/places/standing.ts';

/** A slot as the drawing of the whole farm shows it. */
export interface RoomSlot extends StandingCell {
  /** Of the lot's most urgent open alert that is not put off. */
  severity: Severity | null;
}

/** One rack in a list. */
export interface RackOverview {
  id: string;
  name: string;
  rows: number;
  columns: number;
  depthMm: number;
  leftMm: number | null;
  backMm: number | null;
  slotWidthMm: number | null;
  slotDepthMm: number | null;
  tankId: string;
  tankName: string;
  systemId: string;
  systemName: string;
  lampId: string | null;
  lampName: string | null;
  lots: number;
  pieces: number;
  /** Slots that are taken by lots. */
  taken: number;
  /** Numbers of lots by the severity of the most urgent open alert about each. */
  now: number;
  today: number;
  watch: number;
  measuredAt: Date | null;
  /** The lamps are at another setting than at the survey. */
  turned: boolean;
  /** The rack was mounted otherwise since the survey. */
  moved: boolean;
  /** Its slots, row by row. */
  slots: RoomSlot[];
}

interface TankGroup {
  id: string;
  name: string;
  racks: RackOverview[];
}

export interface SystemGroup {
  id: string;
  name: string;
  lots: number;
  pieces: number;
  tanks: TankGroup[];
}

const sum = (racks: readonly RackOverview[], of: (rack: RackOverview) => number) =>
  racks.reduce((total, rack) => total + of(rack), 0);

/** Racks under their tanks under their systems, in the order given. */
export function racksBySystem(racks: readonly RackOverview[]): SystemGroup[] {
  return [...Map.groupBy(racks, (rack) => rack.systemId)].map(([id, ofSystem]) => ({
    id,
    name: ofSystem[0]?.systemName ?? '',
    lots: sum(ofSystem, (rack) => rack.lots),
    pieces: sum(ofSystem, (rack) => rack.pieces),
    tanks: [...Map.groupBy(ofSystem, (rack) => rack.tankId)].map(([tankId, ofTank]) => ({
      id: tankId,
      name: ofTank[0]?.tankName ?? '',
      racks: ofTank,
    })),
  }));
}

/** Racks named in one sentence; own choice. */
const NAMED = 3;

/** One sentence on all racks: which have lots to see now, or today, or that none has. */
export function roomSummary(racks: readonly Pick<RackOverview, 'name' | 'now' | 'today'>[]): string {
  const says = (which: 'now' | 'today', when: string) => {
    const those = racks.filter((rack) => rack[which] > 0).sort((a, b) => b[which] - a[which]);
    if (those.length === 0) return '';
    const named = those.slice(0, NAMED).map((rack) => rack.name);
    const rest = those.length - named.length;
    const list = rest > 0 ? `${named.join(', ')} and ${rest} more` : named.join(', ');
    return `Look at ${list} ${when}.`;
  };
  return says('now', 'now') || says('today', 'today') || 'No lot on a rack has an alert for today.';
}

/** One thing tapped, as the service takes it. */
export interface TabletEntry {
  id: string;
  kind: string;
  /** By this device's clock. */
  at: string;
  label: string;
  notedBy: string;
  [field: string]: string;
}

/**
 * How far an entry is: `open` while its lot is still being noted, `waiting` to be sent, `taken` by the service but
 * not yet in what is drawn, `refused` with a reason.
 */
export type QueueState = 'open' | 'waiting' | 'taken' | 'refused';

/**
 * An entry as the tablet keeps it until the service has it. It is stored in the browser by these names: renaming a field
 * would lose what waits on a tablet when the service is updated.
 */
export interface QueuedEntry {
  /** Order of tapping. */
  seq?: number;
  id: string;
  roundId: string;
  standing: QueueState;
  /** True once it may have reached the service: from then on it is never changed, only followed by another. */
  tried: boolean;
  why: string;
  /** How often the service failed at it, alone, while it was well otherwise. */
  failures?: number;
  /** True where it was refused and the service holds nothing of it. */
  onlyHere?: boolean;
  entry: TabletEntry;
}

/** A screen as it was drawn for the tablet. */
export interface TabletPage {
  title: string;
  html: string;
  /** As the service marked it then; none of a copy that an older version kept. */
  mark?: string;
}

/** A round as the tablet keeps it: what `/api/rounds/:id` says of it, with every screen by its address. */
export interface TabletRound {
  id: string;
  /** Changes with every entry of anybody. */
  latest?: string;
  drawnAt: string;
  /** A mark of the program that shows it, as the service has it now. */
  script?: string;
  person: { id: string; name: string };
  csrf: string;
  /** In walking order, which of them were looked at, the page of the water that comes after one, and the entry that passed it. */
  racks: { id: string; path: string; looked: boolean; water?: string | null; pass?: string | null }[];
  /** Entries that were not taken and that nobody has put right. */
  refused: string[];
  /** The keys of what is off for now. */
  off: string[];
  /** What every screen says on top. */
  news?: string;
  /** All screens in walking order, each with a mark that changes when what it shows does. */
  screens?: { path: string; mark: string }[];
  pages: Record<string, TabletPage>;
}

/** A photo as the tablet keeps it until the service has it. */
export interface QueuedPhoto {
  id: string;
  roundId: string;
  lotId: string;
  /** The entry it belongs to, which is sent before it; null where it shows a lot of which nothing was noted. */
  entryId: string | null;
  takenAt: string;
  /** Who took it; not known of photos that an older version kept. */
  notedBy?: string;
  /** "R46-TKR, B7". */
  label: string;
  standing: 'waiting' | 'refused';
  why: string;
  failures?: number;
  image: Blob;
  /** Of a photograph of a whole rack (of no one lot: `lotId` is ""): the rack, and the camera's focal length as of 35 mm film. */
  rackId?: string;
  focal35?: number | null;
}

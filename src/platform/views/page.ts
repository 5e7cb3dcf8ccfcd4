/** The areas of the house, in the order of the spine. */
export type Area = 'today' | 'water' | 'racks' | 'stock' | 'watch' | 'rounds' | 'digest' | 'tags';

/** What every view finds under `page`, whatever else it is given. */
export interface PageData {
  title: string;
  area: Area | null;
  now: Date;
  /** IANA name of the site's time zone. */
  timeZone: string;
  /** `isOnlyOne`: the farm has no other. `mayLeave`: the person belongs to others too. */
  site: { id: string; name: string; isOnlyOne: boolean; mayLeave: boolean } | null;
  person: { name: string; role: string; isManager: boolean; isOwner: boolean } | null;
  /** True on an enrolled tablet, where the next person takes over by name and PIN. */
  onTablet?: boolean;
  /** Units as they stand beside fields, and as a form carries them (empty for canonical ones). */
  units: { volume: string; length: string; small: string; mass: string; sent: string };
  csrf: string;
  /** Open alerts by urgency, beside Watch. */
  counts: { now: number; today: number };
  /** What is off for now; null where nothing is. `back`: the page it stands on. */
  switchedOff: {
    nowIso: string;
    back: string;
    places: { id: string; what: string; state: string; place: string; dueAt: string; late: boolean }[];
  } | null;
  /** What is wrong now, on top of every page. */
  emergencies: {
    id: string;
    title: string;
    startedAt: string;
    systems: string[];
    dueAt: string | null;
    late: boolean;
  }[];
  /** One sentence said once, after something was done. */
  notice: string | null;
  /** Where what the notice tells is undone; null where it cannot be. */
  undo: string | null;
  /** Addresses of browser modules. */
  scripts: string[];
  /** True when a form came back refused: the title then starts with "Error: ". */
  hasErrors: boolean;
}

/** One refused field and what to do about it. */
export interface FieldError {
  field: string;
  message: string;
}

/** The frames a view can stand in; null is none, for fragments and plain text. */
export type Layout = 'house' | 'plain' | 'public' | 'round' | 'mail' | null;

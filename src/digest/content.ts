import type { LargeFigure } from '../alerts/finding.ts';
import type { WatchGap } from '../alerts/gaps/gaps.rules.ts';
import type { Step } from '../alerts/steps.ts';
import type { Severity } from '../generated/prisma/enums.ts';
import type { SmallPicture } from '../platform/charts/small-chart.ts';
import type { Figure } from '../platform/words/figures.ts';

/** An alert as the digest tells it. */
export interface DigestAlert {
  id: string;
  severity: Severity;
  title: string;
  numbers: string;
  why: string;
  firstStep: string;
  /** What is to be done now, a step each; missing in digests made before steps were kept. */
  steps?: Step[];
  /** The figures that it says, as pages say them; missing in digests made before they were kept. */
  said?: Figure[];
  /** How many others it explains. */
  explains: number;
  /** The figure that stands large, a small picture of exactly this, and what its button says; missing in older digests. */
  large?: LargeFigure | null;
  picture?: SmallPicture | null;
  button?: string;
  /** The system and quantity it is about; missing in older digests. */
  about?: { systemId: string; quantity: string | null };
  /** Who did something about it that waits to be confirmed, and when (ISO 8601); null where nobody did. */
  done?: { by: string; at: string } | null;
}

/** One thing that changed since the last digest. */
export interface DigestChange {
  kind: 'New' | 'Worse' | 'Better' | 'Cleared' | 'Put off' | 'Back' | 'Acted on';
  title: string;
  alertId: string;
}

/** One system in one line. */
export interface DigestSystem {
  id: string;
  name: string;
  words: string;
  /** The figures that the words say; missing in digests made before they were kept. */
  figures?: Figure[];
  /** What is not known of it, briefly: "water not tested since 3 Nov 2026"; '' where all is known; missing in older digests. */
  unknown?: string;
  /** Nobody has repeated its last test of alkalinity yet; missing in older digests. */
  unconfirmed?: boolean;
  /** Its band of alkalinity, canonical unit; missing in older digests. */
  band?: { low: number | null; high: number | null } | null;
  /** Alkalinity tests of the last 30 days, canonical unit, oldest first. */
  trend: { at: string; value: number }[];
}

/** One piece of work of the day. */
export interface DigestWork {
  /** Its hour; '' for what is due at no hour: then `where` names the system. */
  at: string;
  where: string;
  what: string;
  /** The same as counts of each kind of work; missing in older digests and for rounds. */
  short?: string;
  /** How many pieces of work it stands for; missing in older digests and for rounds. */
  count?: number;
  who: string;
  href: string;
}

/** What one digest says, frozen as it was made. */
export interface DigestContent {
  site: string;
  /** "2026-11-24", the local day. */
  day: string;
  /** Says so when it was made late; empty otherwise. */
  late: string;
  headline: string;
  lead: string;
  /** The figures that it says of the whole farm; missing in digests made before they were kept. */
  figures?: Figure[];
  /** What was wrong since the last digest, or still is. */
  emergencies: { id: string; title: string; words: string }[];
  alerts: DigestAlert[];
  /** Alerts that somebody put off, until when and why. */
  putOff: { id: string; title: string; words: string }[];
  changes: DigestChange[];
  systems: DigestSystem[];
  work: DigestWork[];
  stock: string[];
  /** Lots ready to sell and their free pieces. */
  ready: { lots: number; pieces: number };
  notDone: string[];
  /** What is still to be set up before a day can be judged, then what would make the watch see more. */
  unknowns: { text: string; href: string }[];
  /** What no alert can tell, since the watch did not look. */
  gaps: WatchGap[];
  /** When the last proven backup was made, or that there is none; null on a new farm. */
  backup: { words: string; late: boolean } | null;
}

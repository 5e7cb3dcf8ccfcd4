import type { Severity } from '../generated/prisma/enums.ts';
import type { Figure } from '../platform/words/figures.ts';
import type { Advice } from './advice.ts';

export type { Severity } from '../generated/prisma/enums.ts';

/** What a finding can be about. */
export type SubjectType = 'system' | 'lot' | 'kit' | 'lamp' | 'rack' | 'tank' | 'correction';

/** What tells one finding from another: one rule, one subject, one facet of it ('' where there is only one). */
export interface FindingKey {
  rule: string;
  subject: { type: SubjectType; id: string };
  facet: string;
}

/** A value and what it stands against, as the farm writes it; `value` is in the unit of the text. */
export interface Amount {
  label: string;
  value: number;
  text: string;
  unit: string;
}

/** A figure that stands alone, with what it is in a few words. */
export interface LargeFigure {
  text: string;
  unit: string;
  /** "in seven days", "was 50 %". */
  more: string;
}

/** One piece of evidence for the finding: a reading, a placement, an observation. `at` is ISO 8601. */
export interface Evidence {
  kind:
    | 'reading'
    | 'water change'
    | 'dose'
    | 'feeding'
    | 'correction'
    | 'probe'
    | 'check'
    | 'condition'
    | 'placement'
    | 'lamp setting'
    | 'light survey'
    | 'photograph'
    | 'switched off'
    | 'fault';
  id: string;
  at: string;
  text: string;
  note: string;
}

/** What somebody did about an alert, and what will tell whether it helped. Times are ISO 8601. */
export interface Answer {
  /** "Lamps “Row 1” set from 95 % to 70 %". */
  what: string;
  /** Who did it; empty where that is not known. */
  by: string;
  at: string;
  /** Noted on the alert itself, so that its history has it already. */
  noted: boolean;
  /** What will confirm it, as it goes on after "until": "a light survey of Rack N3". */
  confirm: string;
  /** By when that is asked for, and when it came; null while it did not. */
  dueAt: string;
  confirmedAt: string | null;
  overdue: boolean;
  /** What was to confirm it came, and it is found as before: nothing is confirmed. */
  still?: true;
  /** What is judged takes it in already and finds the same: it was not enough. */
  short?: true;
}

/**
 * What a rule says about one subject now. `status`: strong enough to open an alert ('fires'), only enough to keep
 * one open ('stays'), or not to be told from what is known ('unknown', which neither opens nor clears).
 */
export interface Finding extends FindingKey {
  systemId: string;
  status: 'fires' | 'stays' | 'unknown';
  severity: Severity;
  /** How bad it is, above 0, on a ratio scale of the rule's own: 1 is the limit. */
  score: number;
  /** A sentence that a manager reads. */
  title: string;
  /** The few figures beside the title. */
  numbers: string;
  number: Amount;
  limit: Amount & { source: string };
  /** The one figure that says it at a glance, where that is not `number`: "0.9 dKH", "in seven days". */
  large: LargeFigure | null;
  /** When it began: after `from` and by `to`, ISO 8601; null where that cannot be told. */
  began: { from: string; to: string } | null;
  /** What else was worked out, in words. */
  figures: { label: string; text: string }[];
  /** Figures that its sentences say and that pages say too, word for word. */
  said: Figure[];
  why: string;
  /** What is to be done, as data; `firstStep` is the text of it. */
  advice: readonly Advice[];
  firstStep: string;
  /** What waits until something else is over, as text. */
  later: string;
  /** What is asked back, where the log may not tell all. */
  question: string;
  /** Water changes that it asks for from now on, as a routine has them: a part of the water, every so many days. */
  changes: { fraction: number; everyDays: number } | null;
  evidence: Evidence[];
  /** Lots that are unwell or stand wrong and are told of here, not each by itself: ids. */
  lots: string[];
  /** The page of what it is about. */
  href: string;
  /** Findings that would explain this one, the likeliest first. */
  causes: FindingKey[];
  /** On which side a level is out, or about to be; left out where a finding has no side. */
  side?: 'below' | 'above';
  /** It is only outside a band that nobody has chosen, far off it, but neither jumped nor beyond what does harm. */
  unchosenBand?: boolean;
  /** Only a reading that nobody has repeated says so: it is over at once when the repeat does not bear it out. */
  doubted: boolean;
  /** What was done about it; null while nobody did anything since it was found. */
  answer: Answer | null;
}

/** What all findings have unless they say otherwise. */
export const plainFinding = {
  facet: '',
  advice: [],
  later: '',
  figures: [],
  said: [],
  large: null,
  began: null,
  question: '',
  changes: null,
  evidence: [],
  lots: [],
  href: '',
  causes: [],
  doubted: false,
  answer: null,
};

const ranks: Record<Severity, number> = { now: 3, today: 2, watch: 1 };

/** 3 act now, 2 today, 1 watch. */
export const rankOf = (severity: Severity): number => ranks[severity];

/** The more urgent of several. */
export const mostUrgent = (severities: readonly Severity[]): Severity =>
  [...severities].sort((a, b) => ranks[b] - ranks[a])[0] ?? 'watch';

/** One step more urgent. */
export const raised = (severity: Severity): Severity => (severity === 'watch' ? 'today' : 'now');

/** One step less urgent. */
export const lowered = (severity: Severity): Severity => (severity === 'now' ? 'today' : 'watch');

/** A key as one text. */
export const keyText = ({ rule, subject, facet }: FindingKey): string => `${rule} ${subject.id} ${facet}`;

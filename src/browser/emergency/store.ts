import { uuidv7 } from 'uuidv7';

/** One entry as it was tapped; `sentAt` once the service has it. */
export interface KeptEntry {
  id: string;
  kind: string;
  step: string;
  text: string;
  at: string;
  notedBy: string | null;
  minutes?: string;
  systemId?: string;
  thing?: string;
  offId?: string;
  contactId?: string;
  sentAt?: string;
  /** Why the service did not take it. It stays on this device. */
  refused?: string;
  /** When somebody put a refused one aside: it is not sent and not told of any more. */
  aside?: string;
}

/** One emergency as this device knows it. */
export interface KeptEmergency {
  id: string;
  event: string;
  systemIds: string[];
  startedAt: string;
  startedBy: string | null;
  entries: KeptEntry[];
  /** True once the service knows of it. */
  known: boolean;
  /** Why the service does not take it; empty where it does. */
  refused: string;
  /** When somebody put a refused one aside. */
  aside?: string;
}

const place = 'evenwater-emergencies';
/** How long what was sent is kept beside the service's own record, ms. */
const kept = 2 * 24 * 3600 * 1000;

/** What this device keeps. A few hundred bytes, written before the screen changes, so the page's own storage does. */
export function keptEmergencies(): KeptEmergency[] {
  try {
    const all = JSON.parse(localStorage.getItem(place) ?? '[]') as KeptEmergency[];
    return all.filter((one) => unsent(one) || Date.now() - Date.parse(lastTime(one)) < kept);
  } catch {
    return [];
  }
}

const lastTime = ({ entries, startedAt }: KeptEmergency) => entries.at(-1)?.at ?? startedAt;

/** Whether an entry waits to be sent: the service neither has it nor refused it. */
export const waits = ({ sentAt, refused }: KeptEntry) => sentAt === undefined && refused === undefined;

/** Whether something of it is on this device alone. */
export const unsent = ({ known, aside, entries }: KeptEmergency) =>
  aside === undefined &&
  (!known || entries.some((entry) => entry.sentAt === undefined && entry.aside === undefined));

/** Whether something of it is to be sent. */
export const isToBeSent = (one: KeptEmergency) =>
  one.refused === '' && one.aside === undefined && (!one.known || one.entries.some(waits));

/** What became of an entry, as the service says. */
export interface EntryAnswer {
  id: string;
  outcome: 'taken' | 'there' | 'refused';
  why?: string;
}

/** The entries with what became of those that were sent; the others stay as they are. */
export function answered(
  entries: readonly KeptEntry[],
  answers: readonly EntryAnswer[],
  sentAt: string,
): KeptEntry[] {
  const byId = new Map(answers.map((answer) => [answer.id, answer]));
  return entries.map((entry) => {
    const answer = byId.get(entry.id);
    if (answer === undefined) return entry;
    return answer.outcome === 'refused'
      ? { ...entry, refused: answer.why ?? 'It was not taken.' }
      : { ...entry, sentAt };
  });
}

/** Whether the service refused an entry and nobody has put it aside. */
export const isSetBack = ({ refused, aside }: KeptEntry) => refused !== undefined && aside === undefined;

const withEntry = (one: KeptEmergency, id: string, to: (entry: KeptEntry) => KeptEntry): KeptEmergency => ({
  ...one,
  entries: one.entries.map((entry) => (entry.id === id ? to(entry) : entry)),
});

/** With a refused entry to be sent again as it is. */
export const sentAgain = (one: KeptEmergency, id: string): KeptEmergency =>
  withEntry(one, id, ({ refused: _, ...entry }) => entry);

/** With a refused entry changed. It is a new entry: the service never mistakes it for the old one. */
export const changed = (
  one: KeptEmergency,
  id: string,
  fields: { text: string; minutes?: string },
): KeptEmergency => withEntry(one, id, ({ refused: _, ...entry }) => ({ ...entry, ...fields, id: uuidv7() }));

/** With a refused entry put aside. */
export const putAside = (one: KeptEmergency, id: string, aside: string): KeptEmergency =>
  withEntry(one, id, (entry) => ({ ...entry, aside }));

/** Why something of it was not taken; empty where nothing was refused. */
export const whyRefused = ({ refused, entries }: KeptEmergency): string =>
  refused ||
  entries
    .filter(isSetBack)
    .map((entry) => entry.refused ?? '')
    .filter(Boolean)
    .join(' ');

export const keptEmergency = (id: string) => keptEmergencies().find((one) => one.id === id);

/** Keeps one, in place of what was kept of it. */
export function keep(emergency: KeptEmergency): void {
  const others = keptEmergencies().filter(({ id }) => id !== emergency.id);
  localStorage.setItem(place, JSON.stringify([...others, emergency]));
}

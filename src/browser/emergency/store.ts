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

/** Whether something of it is not with the service yet. */
export const unsent = ({ known, entries }: KeptEmergency) =>
  !known || entries.some(({ sentAt }) => sentAt === undefined);

export const keptEmergency = (id: string) => keptEmergencies().find((one) => one.id === id);

/** Keeps one, in place of what was kept of it. */
export function keep(emergency: KeptEmergency): void {
  const others = keptEmergencies().filter(({ id }) => id !== emergency.id);
  localStorage.setItem(place, JSON.stringify([...others, emergency]));
}

import { contactLine } from '../../farm/contacts/contacts.pages.ts';
import type { Contact } from '../../generated/prisma/client.ts';
import { calledName, nextCall, nextCallAt, openCalls, takenBy } from './calls.rules.ts';
import type { Noted } from './progress.rules.ts';

/** Who has it, who was called and has not answered, and who is next: as the page shows it. */
export function callScreen(
  entries: readonly Noted[],
  onCall: readonly Contact[],
  silenceMin: number,
  mailIsSet: boolean,
  startedAt: Date,
) {
  const people = onCall.map(contactLine);
  const open = openCalls(entries);
  const waiting = new Set(open.map(({ contactId }) => contactId));
  const taken = takenBy(entries);
  const next = nextCall(entries, people);
  const nextAt = nextCallAt(entries, silenceMin, startedAt);
  return {
    nobody: people.length === 0,
    mailIsSet,
    taken: taken === null ? null : { at: taken.at, name: taken.text || (taken.who ?? 'somebody') },
    called: open.map(({ at, text }) => ({ at, name: text })),
    people: people.map((one) => ({ ...one, called: waiting.has(one.id) })),
    next: next === null || nextAt === null ? null : { name: calledName(next.to), at: nextAt },
  };
}

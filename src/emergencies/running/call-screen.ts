import { contactLine } from '../../farm/contacts/contacts.pages.ts';
import type { Contact } from '../../generated/prisma/client.ts';
import { calledName, nextCall, nextCallAt, openCalls, takenBy } from './calls.rules.ts';
import type { Noted } from './progress.rules.ts';

/** Who has it, whose turn it was and has not answered, and who is next: as the page shows it. Only a letter reaches anybody by itself. */
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
  const isWritten = (id: string | null) => mailIsSet && hasAddress(onCall, id);
  return {
    nobody: people.length === 0,
    mailIsSet,
    taken: taken === null ? null : { at: taken.at, name: taken.text || (taken.who ?? 'somebody') },
    called: open.map(({ at, text, who, contactId }) => ({
      at,
      name: text,
      byHand: who !== null,
      written: isWritten(contactId),
    })),
    people: people.map((one) => ({ ...one, called: waiting.has(one.id) })),
    next:
      next === null || nextAt === null
        ? null
        : {
            name: calledName(next.to),
            at: nextAt,
            written: typeof next.to === 'string' ? isWritten(null) : isWritten(next.to.id),
          },
  };
}

/** Whether the list has an address of somebody on call; of `null`, which stands for all of them, or for the managers where nobody is on it. */
const hasAddress = (onCall: readonly Contact[], id: string | null): boolean =>
  (id === null && onCall.length === 0) ||
  onCall.some((one) => one.email !== '' && (id === null || one.id === id));

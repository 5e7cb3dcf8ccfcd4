import {
  answered,
  type EntryAnswer,
  isToBeSent,
  type KeptEmergency,
  keep,
  keptEmergencies,
  keptEmergency,
  waits,
} from './store.ts';

/** How long the service is waited for while somebody stands in front of the screen, ms. */
const patience = 4000;

/** Sends what is not with the service yet; whether all of it is now. */
export async function sendAll(): Promise<boolean> {
  const waiting = keptEmergencies().filter(isToBeSent);
  if (waiting.length === 0) return true;
  try {
    const asked = await fetch('/api/emergencies', {
      headers: { accept: 'application/json' },
      signal: AbortSignal.timeout(patience),
    });
    if (!asked.ok) return false;
    const { csrf } = (await asked.json()) as { csrf: string };
    const sent = await Promise.all(waiting.map((one) => send(one, csrf)));
    return sent.every(Boolean);
  } catch {
    return false;
  }
}

async function send(emergency: KeptEmergency, csrf: string): Promise<boolean> {
  const { id, known: _known, refused: _refused, entries, ...start } = emergency;
  const fresh = entries.filter(waits);
  const answer = await fetch(`/api/emergencies/${id}`, {
    method: 'POST',
    headers: {
      'content-type': 'application/json',
      'x-csrf-token': csrf,
      'device-time': new Date().toISOString(),
    },
    body: JSON.stringify({ ...start, entries: fresh }),
    signal: AbortSignal.timeout(patience),
  });
  const now = keptEmergency(id) ?? emergency;
  const said = (await answer.json().catch(() => ({}))) as { detail?: string; entries?: EntryAnswer[] };
  // The start is there; what became of each entry is said one by one.
  if (said.entries !== undefined) {
    keep({ ...now, known: true, entries: answered(now.entries, said.entries, new Date().toISOString()) });
    return true;
  }
  // What the service will never take is kept with its reason, for a person to read.
  if ([404, 409, 422].includes(answer.status)) keep({ ...now, refused: said.detail ?? 'It was not taken.' });
  return false;
}

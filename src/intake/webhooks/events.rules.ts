import { farmWords } from '../../platform/units/reader-words.ts';

/** What a webhook can be told of. */
export const hookEvents = [
  { code: 'alert.opened', text: 'An alert opens' },
  { code: 'alert.worsened', text: 'An alert gets worse' },
  { code: 'alert.eased', text: 'An alert gets better' },
  { code: 'alert.acted_on', text: 'An alert is acted on' },
  { code: 'alert.put_off', text: 'An alert is put off' },
  { code: 'alert.returned', text: 'An alert that was put off comes back' },
  { code: 'alert.cleared', text: 'An alert is over' },
  { code: 'emergency.begun', text: 'Trouble is reported: an emergency begins' },
  { code: 'emergency.ended', text: 'The emergency is over' },
] as const;

/** Ticked on a new form: what wants somebody, and its end. */
export const usualEvents = [
  'alert.opened',
  'alert.worsened',
  'alert.cleared',
  'emergency.begun',
  'emergency.ended',
];

/** Sent by a button, to see whether the receiver takes it. */
export const testEvent = 'test';

/** The event in words. */
export const eventWords = (code: string): string =>
  code === testEvent ? 'Test' : (hookEvents.find((one) => one.code === code)?.text ?? code);

/** What the database kept of an event: what it is about, its page, and the facts. */
export interface ToldEvent {
  subject: string;
  page: string;
  data: object;
}

/** One delivery as it is composed. */
export interface Composed {
  id: string;
  event: string;
  at: Date;
  siteId: string;
  told: ToldEvent;
}

/** The name of a message, the same at each try (webhook-id of Standard Webhooks). */
export const messageId = (deliveryId: string): string => `msg_${deliveryId}`;

/** A longer body is not sent; none comes near it (the specification asks for less than 20 kB). */
const longestText = 1_000;

/**
 * The body: an event as CloudEvents 1.0 has it, in structured JSON (CNCF, CloudEvents 1.0.2 and its JSON format). Texts are in
 * the units of the farm; links lead to its pages. `type` and `data` are what Standard Webhooks asks for, too.
 * @param base where people reach the service
 */
export function cloudEvent({ id, event, at, siteId, told }: Composed, base: string): string {
  return JSON.stringify({
    specversion: '1.0',
    id: messageId(id),
    source: new URL(`/sites/${siteId}`, base).href,
    type: event,
    subject: told.subject,
    time: at.toISOString(),
    datacontenttype: 'application/json',
    data: { ...(plainTexts(told.data) as object), page: new URL(told.page, base).href },
  });
}

function plainTexts(kept: unknown): unknown {
  if (typeof kept === 'string') return farmWords(kept).slice(0, longestText);
  if (Array.isArray(kept)) return kept.map(plainTexts);
  if (kept === null || typeof kept !== 'object') return kept;
  return Object.fromEntries(Object.entries(kept).map(([name, value]) => [name, plainTexts(value)]));
}

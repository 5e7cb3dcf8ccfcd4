import { Temporal } from 'temporal-polyfill';

/** One event of a calendar: on a whole local day, or at a moment and for some minutes. */
export interface CalendarEvent {
  /** The same for the same thing, whenever it is told: a calendar replaces it then. */
  uid: string;
  when: { day: string } | { at: Date; minutes: number };
  title: string;
  description: string;
  /** Its page; left out where it has none. */
  url?: string;
}

const escaped = (text: string) => text.replace(/[\\;,]/g, (sign) => `\\${sign}`).replace(/\r?\n/g, '\\n');

/** Lines of at most 75 octets, the rest on lines that begin with a space (RFC 5545, 3.1). */
function folded(line: string): string {
  const parts: string[] = [];
  let part = '';
  for (const sign of line) {
    const limit = parts.length === 0 ? 75 : 74;
    if (Buffer.byteLength(part + sign) > limit) {
      parts.push(part);
      part = '';
    }
    part += sign;
  }
  return [...parts, part].join('\r\n ');
}

/** A moment in UTC (RFC 5545, 3.3.5, form 2): right in every zone, whatever its clocks do. */
const utc = (at: Date) => `${at.toISOString().slice(0, 19).replace(/[-:]/g, '')}Z`;
const date = (day: string) => day.replaceAll('-', '');
const dayAfter = (day: string) => Temporal.PlainDate.from(day).add({ days: 1 }).toString();

function timesOf(when: CalendarEvent['when']): string[] {
  if ('day' in when)
    return [`DTSTART;VALUE=DATE:${date(when.day)}`, `DTEND;VALUE=DATE:${date(dayAfter(when.day))}`];
  const ends = new Date(when.at.getTime() + when.minutes * 60_000);
  return [`DTSTART:${utc(when.at)}`, `DTEND:${utc(ends)}`];
}

/**
 * A calendar file (RFC 5545), for any calendar to take in; taken in twice, the same events are replaced.
 * @param what names it: for programs, and for people where it is one to follow
 * @param stamp when it was made
 */
export function calendarFile(
  what: { product: string; name?: string },
  events: readonly CalendarEvent[],
  stamp: Date,
): string {
  const told = events.flatMap(({ uid, when, title, description, url }) => [
    'BEGIN:VEVENT',
    `UID:${uid}@evenwater`,
    `DTSTAMP:${utc(stamp)}`,
    ...timesOf(when),
    `SUMMARY:${escaped(title)}`,
    `DESCRIPTION:${escaped(description)}`,
    ...(url === undefined ? [] : [`URL:${url}`]),
    'END:VEVENT',
  ]);
  const lines = [
    'BEGIN:VCALENDAR',
    'VERSION:2.0',
    `PRODID:-//Evenwater//${what.product}//EN`,
    // The name and how often it is asked for (RFC 7986, 5.1 and 5.7).
    ...(what.name === undefined
      ? []
      : [`NAME:${escaped(what.name)}`, 'REFRESH-INTERVAL;VALUE=DURATION:PT1H']),
    ...told,
    'END:VCALENDAR',
  ];
  return `${lines.map(folded).join('\r\n')}\r\n`;
}

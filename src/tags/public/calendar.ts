import { Temporal } from 'temporal-polyfill';

/** One whole day in a calendar file. */
export interface CalendarDay {
  /** "2026-12-01". */
  day: string;
  title: string;
  description: string;
}

const escaped = (text: string) => text.replace(/[\\;,]/g, (sign) => `\\${sign}`).replaceAll('\n', '\\n');

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

/**
 * A calendar file (RFC 5545) of whole days, for any calendar to take in; taken in twice, the same days are replaced.
 * @param id what makes the events' own identifiers, unguessable where the calendar is
 */
export function calendarFile(id: string, days: readonly CalendarDay[], now: Date): string {
  const stamp = `${now.toISOString().slice(0, 19).replace(/[-:]/g, '')}Z`;
  const compact = (day: Temporal.PlainDate) => day.toString().replaceAll('-', '');
  const events = days.flatMap(({ day, title, description }, at) => {
    const date = Temporal.PlainDate.from(day);
    return [
      'BEGIN:VEVENT',
      `UID:${id}-${at}@evenwater`,
      `DTSTAMP:${stamp}`,
      `DTSTART;VALUE=DATE:${compact(date)}`,
      `DTEND;VALUE=DATE:${compact(date.add({ days: 1 }))}`,
      `SUMMARY:${escaped(title)}`,
      `DESCRIPTION:${escaped(description)}`,
      'END:VEVENT',
    ];
  });
  const lines = [
    'BEGIN:VCALENDAR',
    'VERSION:2.0',
    'PRODID:-//Evenwater//Care plan//EN',
    ...events,
    'END:VCALENDAR',
  ];
  return `${lines.map(folded).join('\r\n')}\r\n`;
}

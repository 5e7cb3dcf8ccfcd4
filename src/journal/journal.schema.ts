import { z } from 'zod';
import { addDays, momentOf } from '../platform/days.ts';
import { type SubjectType, subjects } from './subjects.ts';

const whole = z.string().trim().max(200).catch('');
const day = z.iso
  .date()
  .refine((text) => text > '1900' && text < '3000')
  .or(z.literal(''))
  .catch('');

/** The filters of the journal as an address carries them; what makes no sense filters nothing. */
export const filterSchema = z.object({
  by: z.uuid().or(z.literal('itself')).or(z.literal('')).catch('').default(''),
  about: z
    .string()
    .refine((type) => type === '' || Object.hasOwn(subjects, type))
    .catch('')
    .default(''),
  subject: z.uuid().or(z.literal('')).catch('').default(''),
  named: whole.default(''),
  from: day.default(''),
  to: day.default(''),
  before: z
    .string()
    .regex(/^\d{10,14}-[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/)
    .or(z.literal(''))
    .catch('')
    .default(''),
});

export type Filters = z.output<typeof filterSchema>;

/** The line after which a page begins, by time and id. */
export interface Cursor {
  at: Date;
  id: string;
}

/** What the journal is asked: each null asks for everything. */
export interface JournalQuestion {
  /** Lines about things of other sites are left out. */
  siteId: string;
  /** An account or an access key; 'itself' for what the service did without anybody. */
  by: string | null;
  about: SubjectType | null;
  subjects: readonly string[] | null;
  from: Date | null;
  /** The first moment that is too late. */
  to: Date | null;
}

export const cursorOf = (text: string): Cursor | null => {
  const [, at = '', id = ''] = /^(\d+)-(.+)$/.exec(text) ?? [];
  return id === '' ? null : { at: new Date(Number(at)), id };
};

export const cursorText = ({ at, id }: Cursor): string => `${at.getTime()}-${id}`;

/** The question that filters ask. @param found the ids that `named` stands for; null when it was left empty */
export function questionOf(
  filters: Filters,
  found: readonly string[] | null,
  site: { id: string; timeZone: string },
): JournalQuestion {
  const one = filters.subject === '' ? null : [filters.subject];
  const { id: siteId, timeZone } = site;
  return {
    siteId,
    by: filters.by === '' ? null : filters.by,
    about: filters.about === '' ? null : (filters.about as SubjectType),
    subjects: one ?? found,
    from: filters.from === '' ? null : momentOf(filters.from, '00:00', timeZone),
    to: filters.to === '' ? null : momentOf(addDays(filters.to, 1), '00:00', timeZone),
  };
}

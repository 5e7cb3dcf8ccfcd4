import { z } from 'zod';
import { choice, optionalNumber, optionalText } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { capitalized } from '../../platform/words/capitals.ts';
import { CONDITION_STATES, CONDITION_WORDS, GRADE_WORDS } from '../base/condition-states.rules.ts';
import { pestCode, pestCount } from '../pests/pests.schema.ts';

/** The states of a lot, to choose from. */
export const conditionChoices = CONDITION_STATES.map((value) => ({ value, text: CONDITION_WORDS[value] }));

/** How much of a lot looks so, to choose from. */
export const gradeChoices = [
  { value: '', text: 'Not said' },
  ...Object.entries(GRADE_WORDS).map(([value, words]) => ({ value, text: capitalized(words) })),
];

/** How lots looked, as forms and JSON bring it. */
export const conditionNoteSchema = (timeZone: string, now: Date) =>
  z.object({
    state: choice(CONDITION_STATES, 'Choose how it looks.'),
    grade: optionalNumber({ what: 'how much of it', low: 1, high: 3 }),
    note: optionalText(),
    pest: pestCode(),
    pestCount: pestCount(),
    at: pastMoment(timeZone, now),
  });

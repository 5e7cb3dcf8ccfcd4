import { z } from 'zod';
import { text, version } from '../web/fields.ts';
import { calendarDay } from '../web/moments.ts';

/** Plans of one answer: one with all its steps is mostly some kB (own choices). */
export const planBounds = { things: 'plans', most: 200, usual: 50 };

/** The step that a form of a plan is about. */
export const stepField = z.uuid('Open the page again.');

/** The day of the first step, "2026-11-24". @param today where nothing was entered */
export const startField = (today: string) =>
  text('the day of the first step').pipe(calendarDay('Enter a day, like 2026-11-24.')).default(today);

/** What a JSON request says for an edit of a plan or a step: the version it saw, and why. */
export const editSchema = (why: string, longest: number) =>
  z.object({ version: version(), reason: text(why, longest) });

import { Refusal } from '../../platform/refusal.ts';
import type { FormState } from '../../platform/web/forms.ts';

/** How many sentences one question holds; own choice. */
const said = 3;

/** Asks about what is odd, for a form whose tick `sure` says that it is correct. @throws Refusal 422 */
export function refuseConcerns(concerns: readonly string[]): void {
  if (concerns.length === 0) return;
  throw new Refusal(`${concerns.slice(0, said).join(' ')} Correct it, or tick that it is correct.`, {
    field: 'sure',
  });
}

/** Whether a form asks for that tick. */
export const asksSure = ({ errors, typed }: FormState): boolean =>
  errors.some(({ field }) => field === 'sure') || (typed.sure ?? '') !== '';

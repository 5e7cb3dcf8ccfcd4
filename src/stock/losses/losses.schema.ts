import { z } from 'zod';
import type { LossCause } from '../../generated/prisma/enums.ts';
import { LOSS_CAUSES, lossCauses } from './causes.rules.ts';

/** Why pieces were lost, to choose from; first that nobody knows. */
export const causeChoices = LOSS_CAUSES.map(({ value, text, hint }) => ({
  value,
  text: hint === '' ? text : `${text} (${hint})`,
}));

/** A cause as forms and JSON bring it; left out: not known. */
export const lossCause = () =>
  z
    .enum(['', ...lossCauses], { error: 'Choose why it was lost from the list.' })
    .nullish()
    .transform(
      (cause): LossCause => (cause === '' || cause === null || cause === undefined ? 'unknown' : cause),
    );

import { z } from 'zod';
import { GrowthForm } from '../../generated/prisma/enums.ts';
import { choice, optionalText, text } from '../../platform/web/fields.ts';

/** A kind's names, growth form and note, as the form brings them. */
export const kindSchema = z.object({
  name: text('a name', 120),
  alsoCalled: optionalText(500).transform((names) => splitNames(names)),
  growthForm: choice(['', ...Object.values(GrowthForm)], 'Choose a growth form of the list.').transform(
    (form) => (form === '' ? null : form),
  ),
  note: optionalText(),
});

/** Names separated by commas, semicolons or lines, each once. */
function splitNames(typed: string): string[] {
  const names = typed.split(/[,;\n]/).map((name) => name.trim());
  return [...new Set(names.filter((name) => name !== ''))];
}

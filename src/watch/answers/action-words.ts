import { numberWords } from '../../platform/words/numbers.ts';
import type { SystemFacts } from '../facts/types.ts';
import { nameOf } from '../rules/shared/words.ts';
import type { Action } from './actions.ts';

/** "lamps “Row 1” set from 95 % to 70 %". */
export function actionWords(
  { kind, name, amount, before, quantityCode }: Action,
  facts: SystemFacts,
): string {
  const of =
    quantityCode !== null && facts.quantities.has(quantityCode) ? ` of ${nameOf(facts, quantityCode)}` : '';
  const percent = (value: number | null) => `${numberWords(value ?? 0)} %`;
  switch (kind) {
    case 'lamps':
      return `lamps “${name}” set${before === null ? '' : ` from ${percent(before)}`} to ${percent(amount)}`;
    case 'move':
    case 'said':
    case 'doser well':
    case 'doser righted':
      return name;
    case 'doser wrong':
      return 'looked at the doser, which is not put right yet';
    case 'flow':
      return `flow or base changed on ${name}`;
    case 'water change':
      return `water change of ${numberWords(amount ?? 0)} L (${percent(Math.round((100 * (amount ?? 0)) / facts.volumeL))})`;
    case 'dose':
      return `dosed ${name}`;
    case 'correction':
      return `correction${of} planned`;
    case 'correction stopped':
      return `correction${of} stopped`;
    case 'routine':
      return `${name}${of}`;
    case 'switched off':
      return `${name} switched off`;
    case 'running':
      return `${name} seen running`;
    case 'mended':
      return `mended: ${name}`;
    case 'serviced':
      return `${name} serviced`;
    case 'event':
      return `noted: ${name}`;
    case 'kit opened':
      return `kit ${name} opened`;
    case 'kit put away':
      return `kit ${name} put away`;
    case 'check':
      return `kit ${name} checked`;
    case 'look':
      return 'looked at';
  }
}

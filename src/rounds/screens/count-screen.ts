import { uuidv7 } from 'uuidv7';
import { notFound } from '../../platform/refusal.ts';
import type { FormState } from '../../platform/web/forms.ts';
import type { CountedRack } from '../../stock/stocktakes/state.ts';
import { countForm } from '../../stock/stocktakes/stocktakes.words.ts';
import type { RoundSheet } from '../round/round-sheet.ts';
import { countPath, racksToCount } from './count-rows.ts';
import { headOf, rackPath, roundPath, type Screen } from './screens.ts';

/** One rack of a stocktake: a number for each lot, in the order of the shelf. */
export function countScreen(sheet: RoundSheet, rackId: string, form: FormState): Screen {
  const { round, count } = sheet;
  const racks = racksToCount(sheet);
  const at = racks.findIndex(({ id }) => id === rackId);
  const rack = racks[at];
  if (rack === undefined || count === null) throw notFound('This rack, in an open stocktake,');
  const { stocktake } = count;
  const path = (one: CountedRack | undefined) => (one === undefined ? null : countPath(round.id, one.id));
  return {
    view: 'rounds/count',
    title: `Count ${rack.name}: ${stocktake.name}`,
    data: {
      ...headOf(sheet),
      ...{ rack, stocktake, number: at + 1, of: racks.length },
      ...countForm(count.lots.get(rackId) ?? [], rack, stocktake, form),
      entryId: form.typed.id || uuidv7(),
      mends: form.typed.mends ?? '',
      entries: `${roundPath(round.id)}/entries`,
      look: rackPath(round.id, rackId),
      before: path(racks[at - 1]),
      after: path(racks[at + 1]),
      next: path(racks[at + 1]) ?? roundPath(round.id),
    },
  };
}

import { notFound } from '../../platform/refusal.ts';
import { capitalized } from '../../platform/words/capitals.ts';
import type { Care, CareValue } from './care.ts';
import { BASIS_WORDS, type FarmUnits, figureFormat, figureWords } from './care-figure-words.ts';
import {
  FIGURE_NAMES,
  FIGURES,
  type FigureName,
  type FigureSpec,
  FLOW_WORDS,
  isFigure,
} from './care-figures.ts';

const OWNERS: Readonly<Record<CareValue['from'], string>> = {
  lot: 'this lot’s own',
  taxon: 'its taxon’s',
  group: 'its group’s',
};

const flows = FLOW_WORDS.map((text, value) => ({ value: String(value), text }));

/** The figure that an address names. @throws Refusal 404 */
export function requestedFigure(request: { params: unknown }): FigureName {
  const { figure = '' } = request.params as { figure?: string };
  if (!isFigure(figure)) throw notFound('This figure');
  return figure;
}

/** What the form of one figure shows: which parts to type, in which unit, and what holds now. */
export function figureView(figure: FigureName, value: CareValue | undefined, units: FarmUnits) {
  const spec: FigureSpec = FIGURES[figure];
  const { unit } = figureFormat(spec, units);
  const now =
    value === undefined
      ? null
      : {
          // It goes on in the sentence.
          text: figureWords(figure, value, units).replace(/\.$/, ''),
          whose: OWNERS[value.from],
          basis: BASIS_WORDS[value.basis],
          source: capitalized(value.source),
        };
  return { label: spec.label, parts: spec.parts, hint: spec.hint ?? '', unit, flows, now };
}

const inputValue = (value: number | null | undefined, figure: FigureName, units: FarmUnits) => {
  if (value === null || value === undefined) return '';
  const { toFarm, decimals } = figureFormat(FIGURES[figure], units);
  return String(Number(toFarm(value).toFixed(decimals + 1)));
};

/** The form of a figure as it opens: what holds now, to be changed, and a reason still to be given. */
export function figureFormValues(figure: FigureName, value: CareValue | undefined, units: FarmUnits) {
  const low = inputValue(value?.low, figure, units);
  const high = inputValue(value?.high, figure, units);
  return { low, high, words: value?.words ?? '', reason: '' };
}

/** Figures that a care does not state yet. */
export function missingFigures(care: Care): { figure: FigureName; label: string }[] {
  return FIGURE_NAMES.filter((name) => care[name] === undefined).map((figure) => ({
    figure,
    label: FIGURES[figure].label,
  }));
}

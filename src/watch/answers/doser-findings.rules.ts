/** Something that can be found at a doser, and what puts it right; '' where nothing was wrong. */
interface DoserFinding {
  value: string;
  text: string;
  mend: string;
}

/** What somebody can find at a doser; the first is that all was well. */
export const doserFindings = [
  {
    value: 'well',
    text: 'Nothing wrong: line, air, container and calibration are right',
    mend: '',
  },
  { value: 'line', text: 'Line kinked or blocked', mend: 'Clear the doser line, or put a new one in.' },
  {
    value: 'air',
    text: 'Air in the line',
    mend: 'Take the air out of the doser line, and look where it gets in.',
  },
  { value: 'container', text: 'Container empty or low', mend: 'Fill the container of the doser.' },
  { value: 'amount', text: 'It gives the wrong amount', mend: 'Set the doser to its full amount again.' },
] as const satisfies readonly DoserFinding[];

/** What puts right what was found; in general words where it is not one of them. */
export const mendWords = (value: string): string =>
  doserFindings.find((one) => one.value === value)?.mend || 'Put right what was found at the doser.';

/** Whether a doser gives its full amount after a look at it: it always did, it does again, or not yet. */
export type DoserState = 'well' | 'righted' | 'wrong';

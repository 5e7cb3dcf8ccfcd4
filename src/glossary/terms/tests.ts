import type { Term } from './term.ts';

/** Words about tests and how far they can be trusted. */
export const testTerms: readonly Term[] = [
  {
    key: 'kit',
    name: 'Kit',
    text: 'One opened bottle set, or one instrument between two calibrations. Every reading says which kit it was made with, so a kit that reads wrong can be told from water that changed.',
    otherwise: 'In a shop a kit is the box. Here the next box of the same kind is another kit.',
  },
  {
    key: 'kit-drift',
    name: 'Kit drift',
    text: 'A kit that reads too low or too high, from its first test or more and more. It shows against a standard, beside another kit, or as a jump of the readings on the day it was opened. Change nothing in the water on its readings.',
  },
  {
    key: 'standard',
    name: 'Standard',
    text: 'A solution whose value is known. Testing it shows whether the kit reads right.',
    otherwise: 'Also called reference or check solution.',
  },
  {
    key: 'unconfirmed',
    name: 'Unconfirmed',
    text: 'A reading that does not fit the ones before it and was not repeated yet. It is shown, and nothing is corrected on it. A second test settles it: it confirms the first, or shows that it was wrong.',
  },
  {
    key: 'below-detection',
    name: 'Below detection',
    text: 'Less than the test can see. It is not zero: it may be anything up to the limit, written <0.02 or ND. Means count it as half the limit.',
    otherwise:
      'Laboratories tell the limit of detection from the higher limit of quantification. Enter the one your report states.',
    source: 'Half the limit with its uncertainty: GUM (JCGM 100:2008), 4.3.7.',
  },
  {
    key: 'dilution',
    name: 'Dilution',
    text: 'The sample is thinned with purified water to bring it onto the scale of the test. One part of sample in four parts in all is diluted 4 times; enter 4 and the value the test shows.',
    otherwise: 'Some write 1:4 for one part and four more, which is 5 times. Count the parts in all.',
  },
  {
    key: 'uncertainty',
    name: '± (uncertainty)',
    text: 'How far a figure may be off. Two times in three the true value is within the ± beside it, 19 times in 20 within twice as much.',
    otherwise: 'The ± on a leaflet is often the most that should happen, about twice this.',
    source: 'Standard uncertainty: GUM (JCGM 100:2008).',
  },
  {
    key: 'interval',
    name: '95 % interval',
    text: 'From where to where the true value is, 19 times in 20. A wide one means: not known well. Where it goes past zero, the tests cannot tell whether anything is used at all.',
  },
  {
    key: 'held-back',
    name: 'Held back',
    text: 'A planned step that should not be done now. The reason is beside it: a test is missing, or the last one was not what the plan expected.',
  },
];

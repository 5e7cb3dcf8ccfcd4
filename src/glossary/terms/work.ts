import type { Term } from './term.ts';

/** Words about alerts and the work of a day. */
export const workTerms: readonly Term[] = [
  {
    key: 'act-now',
    name: 'Act now, today, watch',
    text: 'How soon. Act now: go and do it at once, animals or people are in danger. Today: before you leave. Watch: nothing to do yet but to keep an eye on it. An alert whose limit nobody has checked is never more than a watch.',
  },
  {
    key: 'put-off',
    name: 'Put off',
    text: 'The alert is hidden until a day, with the reason and the name of whoever put it off. It comes back earlier if it gets worse.',
  },
  {
    key: 'cleared',
    name: 'Cleared',
    text: 'The alert closed by itself, because what it was about is no longer so. Nobody can close one by hand.',
  },
  {
    key: 'how-sure',
    name: 'How sure',
    text: 'How likely the alert is right. “Almost surely not chance” means that the tests would fall like this by accident less than once in a hundred times.',
  },
  {
    key: 'routine',
    name: 'Routine',
    text: 'Work that comes again on set days: a test, a water change, a dose, a feeding. It counts as done when something of the kind is logged.',
  },
  {
    key: 'round',
    name: 'Round',
    text: 'One walk past the racks with the tablet: what was seen, tested and fed. A round plan says when, past which tanks and by whom.',
  },
  {
    key: 'switched-off',
    name: 'Switched off for now',
    text: 'Something is off, open or out of use for a while, with a time at which it must run again. An entry ends only when somebody has seen it running.',
  },
  {
    key: 'voided',
    name: 'Voided',
    text: 'An entry that was wrong. It stays in view, struck through, with the reason, and nothing counts it any more.',
  },
];

import type { AcuteState } from '../acute/acute-states.rules.ts';

/** What is said where a correction starts from an acute level: the order, the fast rate, where the slow one takes over, and the next test. */
export function acuteCautions({ source, people, air, rate, slow, again, not }: AcuteState): string[] {
  const pace =
    rate.by === null
      ? 'This level is acute.'
      : 'This level is acute: the first steps follow each other within hours, the rest by the day.';
  return [
    `${pace} ${source}`,
    ...[people, air].filter((text) => text !== ''),
    rate.words,
    `${slow} ${again}`,
    not,
  ];
}

import type { Finding } from '../finding/finding.ts';

/**
 * Judges twice: on readings that are relied on, and on all. What only an unconfirmed reading says asks for no more
 * than another test.
 */
export function relyingOnConfirmed(
  judge: (withUnconfirmed: boolean) => Finding | null,
  hasUnconfirmed: boolean,
): Finding | null {
  const relied = judge(false);
  if (!hasUnconfirmed || relied?.standing === 'fires') return relied;
  const all = judge(true);
  if (all?.standing !== 'fires') return relied;
  return {
    ...all,
    severity: 'watch',
    title: `${all.title}, if the last reading holds`,
    firstStep: 'Test again, with another kit if there is one. Change nothing on one unconfirmed reading.',
  };
}

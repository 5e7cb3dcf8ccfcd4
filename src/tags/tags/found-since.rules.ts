import { nameInSentence } from '../../water/quantities/name.rules.ts';

/**
 * What a kit behind a record is off by; `found`: the day after its issue on which it was found, '' where it was not found later;
 * `bias`: relative, -0.1 reads 10 % low. "Found on 30 Nov 2026, after this was issued: a kit that its calcium was tested with reads
 * 8 % high. What it read was truly about 7 % lower."
 */
export function foundWords({ found, bias, name }: { found: string; bias: number; name: string }): string {
  const percent = (share: number) => `${Math.round(Math.abs(share) * 100)} %`;
  // What was read is 1 + bias of what there was.
  const off = 1 / (1 + bias) - 1;
  const kit = `kit that its ${nameInSentence(name)} was tested with reads ${percent(bias)} ${bias < 0 ? 'low' : 'high'}`;
  const said = found === '' ? `A ${kit}` : `Found on ${found}, after this was issued: a ${kit}`;
  return `${said}. What it read was truly about ${percent(off)} ${off < 0 ? 'lower' : 'higher'}.`;
}

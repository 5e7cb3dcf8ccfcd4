/** The longest pause after a wrong try, in seconds: about a hundred tries a day, of passwords of ten signs or more. */
const longestPauseS = 900;

/**
 * How many wrong tries cost no pause (own choices). One account: whoever mistypes a password mistypes it two or three times. One address: a farm of
 * thirty people stands behind one. Secrets that no person types (keys, codes of tags) are mistyped by programs and old
 * links.
 */
export const tryLimits = {
  account: { free: 5, longestPauseS },
  device: { free: 5, longestPauseS },
  address: { free: 30, longestPauseS },
  secret: { free: 30, longestPauseS },
  // A form that comes without a session is kept for its sender, whoever that is: not without end.
  keptForm: { free: 60, longestPauseS },
  // A PIN of four digits is one of 10,000: 24 tries a day on one tablet are a chance of 0.24 % a day.
  pin: { free: 4, longestPauseS: 3600 },
};

/** Wrong tries are forgotten after this long without another, in hours. */
export const forgottenAfterH = 24;

/** Addresses of a network of one's own (RFC 1918, RFC 4193, and those of the machine itself). */
const own = /^(127\.|10\.|192\.168\.|172\.(1[6-9]|2\d|3[01])\.|::1$|f[cd]|fe80:)/i;

/**
 * An address as the journal keeps it of somebody who may be a stranger: of one's own network whole, since it tells which
 * machine it was; of any other its neighbourhood alone (the first 24 bits of IPv4, 48 of IPv6).
 */
export function neighbourhoodOf(address: string): string {
  const plain = address.replace(/^::ffff:/i, '');
  if (own.test(plain)) return plain;
  if (!plain.includes(':')) return plain.replace(/\.\d+$/, '.x');
  return `${networkOf(plain).split(':').slice(0, 3).join(':')}::x`;
}

/** The network that an address stands for: one IPv4 address, or the 64 bits of IPv6 that one household is given (RFC 6177). */
export function networkOf(address: string): string {
  const mapped = /^::ffff:(\d+\.\d+\.\d+\.\d+)$/i.exec(address);
  if (mapped?.[1] !== undefined) return mapped[1];
  if (!address.includes(':')) return address;
  const [head = '', tail] = address.split('::');
  const first = head === '' ? [] : head.split(':');
  const last = tail === undefined || tail === '' ? [] : tail.split(':');
  const zeros = tail === undefined ? [] : Array.from({ length: 8 - first.length - last.length }, () => '0');
  return [...first, ...zeros, ...last]
    .slice(0, 4)
    .map((part) => Number.parseInt(part, 16).toString(16))
    .join(':');
}

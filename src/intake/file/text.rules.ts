/** The encodings a file may be in, by the names of the WHATWG Encoding Standard. */
export const encodings = ['utf-8', 'utf-16le', 'utf-16be', 'windows-1252'] as const;
export type Encoding = (typeof encodings)[number];

export const encodingNames: Readonly<Record<Encoding, string>> = {
  'utf-8': 'UTF-8',
  'utf-16le': 'UTF-16, little-endian',
  'utf-16be': 'UTF-16, big-endian',
  'windows-1252': 'Windows-1252 (Western European)',
};

const byteOrderMarks: readonly [Encoding, readonly number[]][] = [
  ['utf-8', [0xef, 0xbb, 0xbf]],
  ['utf-16le', [0xff, 0xfe]],
  ['utf-16be', [0xfe, 0xff]],
];

/** Which encoding the bytes are most likely in, and what says so. */
export function guessEncoding(bytes: Uint8Array): { encoding: Encoding; why: string } {
  const marked = byteOrderMarks.find(([, mark]) => mark.every((byte, i) => bytes[i] === byte));
  if (marked !== undefined) return { encoding: marked[0], why: 'the file starts with its byte order mark' };
  const wide = guessUtf16(bytes);
  if (wide !== null) return { encoding: wide, why: 'every second byte is zero' };
  const text = asUtf8(bytes);
  if (text === null)
    return { encoding: 'windows-1252', why: 'it is not valid UTF-8; characters beyond ASCII may be wrong' };
  const why = text.length < bytes.length ? 'it is valid UTF-8' : 'it holds plain ASCII only';
  return { encoding: 'utf-8', why };
}

function guessUtf16(bytes: Uint8Array): Encoding | null {
  const head = bytes.subarray(0, 4096);
  if (head.length < 4) return null;
  const zeros = [0, 1].map((side) => head.filter((byte, i) => i % 2 === side && byte === 0).length);
  const [even = 0, odd = 0] = zeros;
  if (odd > head.length * 0.3 && even === 0) return 'utf-16le';
  return even > head.length * 0.3 && odd === 0 ? 'utf-16be' : null;
}

function asUtf8(bytes: Uint8Array): string | null {
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    return null;
  }
}

/** The bytes as text, without a byte order mark. What does not fit the encoding becomes U+FFFD. */
export function decode(bytes: Uint8Array, encoding: Encoding): string {
  return new TextDecoder(encoding).decode(bytes);
}

/** What to say about a text that seems to be read in the wrong encoding; null when nothing speaks for that. */
export function encodingWarning(text: string): string | null {
  const lost = text.indexOf('\uFFFD');
  if (lost >= 0) return 'Some characters do not fit this encoding and are lost. Choose another encoding.';
  const twice = /[ÂÃ][\u0080-\u00bf°µ²³·]/.exec(text)?.[0];
  if (twice === undefined) return null;
  return `“${twice}” is there where one character should be: UTF-8 was read as another encoding, here or before. Choose UTF-8, or correct the file.`;
}

/** How the rows end, in words; a file may end each with a bare CR. */
export function lineEndWords(text: string): string {
  const crlf = count(text, '\r\n');
  const ends: [string, number][] = [
    ['CR LF', crlf],
    ['LF', count(text, '\n') - crlf],
    ['bare CR', count(text, '\r') - crlf],
  ];
  const there = ends.filter(([, n]) => n > 0);
  if (there.length === 0) return 'one line';
  if (there.length === 1) return `lines end with ${there[0]?.[0]}`;
  return `lines end differently (${there.map(([name, n]) => `${n} with ${name}`).join(', ')}); each is taken as an end`;
}

function count(text: string, part: string): number {
  let found = 0;
  for (let at = text.indexOf(part); at >= 0; at = text.indexOf(part, at + part.length)) found += 1;
  return found;
}

import sharp from 'sharp';
import type { Random } from '../../../src/science/statistics/random.ts';

/** A file as somebody might bring it, good or damaged. */
export interface FuzzedFile {
  kind: 'table' | 'pack' | 'photo';
  content: Buffer;
  /** Whether it was damaged. */
  isDamaged: boolean;
}

const pick = <T>(random: Random, list: readonly T[]): T => list[random.below(list.length)] as T;

/** What tables of readings hold that nobody thought of. */
const oddCells = [
  '',
  '"',
  'NaN',
  '1e308',
  '-1e308',
  '9'.repeat(400),
  '0x10',
  '8,4,2',
  '<',
  '>20',
  'n.d.',
  '\u0000',
  '\ud83d',
  '=1+1',
  '2026-02-30',
  '0000-00-00',
  '31/12/9999 25:61',
  '\u202e8.4',
  '٨٫٤',
];

/** One of the three kinds, by chance; a little less than half are damaged. */
export async function fuzzedFile(
  random: Random,
  names: { system: string; probe: string },
): Promise<FuzzedFile> {
  const kind = pick(random, ['table', 'table', 'table', 'pack', 'photo'] as const);
  const whole = await made(kind, random, names);
  const isDamaged = random.uniform() < 0.45;
  return { kind, isDamaged, content: isDamaged ? damaged(whole, kind, random) : whole };
}

async function made(
  kind: FuzzedFile['kind'],
  random: Random,
  names: { system: string; probe: string },
): Promise<Buffer> {
  if (kind === 'table') return tableFile(random, names.system);
  return kind === 'pack' ? packFile(random, names.probe) : photoFile(random);
}

/** Times never met before, so that none is there already. */
let minutes = 0;
function nextTime(): Date {
  minutes += 1;
  return new Date(Date.parse('2026-11-20T08:00:00Z') - minutes * 60_000);
}

function tableFile(random: Random, system: string): Buffer {
  const separator = pick(random, [',', ';', '\t']);
  const end = pick(random, ['\n', '\r\n', '\r']);
  const isWide = random.below(2) === 0;
  const head = isWide
    ? ['when', 'system', 'Alkalinity dKH', 'Calcium mg/L']
    : ['when', 'system', 'quantity', 'value', 'unit'];
  const rows = Array.from({ length: 1 + random.below(30) }, () => {
    const when = nextTime().toISOString();
    const [alkalinity, calcium] = [(8 + random.uniform()).toFixed(2), (400 + random.below(60)).toFixed(0)];
    return isWide ? [when, system, alkalinity, calcium] : [when, system, 'alkalinity', alkalinity, 'dKH'];
  });
  const text = [head, ...rows].map((cells) => cells.join(separator)).join(end);
  const mark = random.below(4) === 0 ? '\ufeff' : '';
  return random.below(6) === 0 ? Buffer.from(`\ufeff${text}`, 'utf16le') : Buffer.from(mark + text);
}

function packFile(random: Random, probe: string): Buffer {
  const records = Array.from({ length: 1 + random.below(40) }, () => ({
    n: probe,
    u: 'Cel',
    t: nextTime().getTime() / 1000,
    v: 24 + random.uniform(),
  }));
  return Buffer.from(JSON.stringify(records));
}

async function photoFile(random: Random): Promise<Buffer> {
  const picture = sharp({
    create: {
      width: 20 + random.below(400),
      height: 20 + random.below(400),
      channels: 3,
      background: '#a54',
    },
  });
  const format = pick(random, ['jpeg', 'png', 'webp'] as const);
  return picture[format]().toBuffer();
}

/** One to three things done to a file that no person would do. */
function damaged(whole: Buffer, kind: FuzzedFile['kind'], random: Random): Buffer {
  let content = whole;
  for (let times = 1 + random.below(3); times > 0; times--)
    content = pick(random, damages)(content, kind, random);
  return content;
}

type Damage = (content: Buffer, kind: FuzzedFile['kind'], random: Random) => Buffer;

const damages: readonly Damage[] = [
  // Bytes turned into others.
  (content, _, random) => {
    const turned = Buffer.from(content);
    for (let n = 1 + random.below(8); n > 0; n--)
      turned[random.below(turned.length || 1)] = random.below(256);
    return turned;
  },
  // Cut short.
  (content, _, random) => content.subarray(0, random.below(content.length + 1)),
  // A piece of it twice.
  (content, _, random) => {
    const [from, length] = [random.below(content.length + 1), random.below(200)];
    return Buffer.concat([content.subarray(0, from + length), content.subarray(from)]);
  },
  // Something odd in the place of a word.
  (content, kind, random) => {
    if (kind === 'photo') return content;
    const parts = content.toString('utf8').split(/(?<=[,;\t\n])/);
    parts[random.below(parts.length)] = `${pick(random, oddCells)},`;
    return Buffer.from(parts.join(''));
  },
  // Noise before or behind.
  (content, _, random) => {
    const noise = Buffer.from(Array.from({ length: 1 + random.below(60) }, () => random.below(256)));
    return Buffer.concat(random.below(2) === 0 ? [noise, content] : [content, noise]);
  },
  // Very many columns, or quotation marks that never close.
  (content, kind, random) =>
    kind === 'photo'
      ? content
      : Buffer.concat([
          content,
          Buffer.from(pick(random, [','.repeat(5000), '"', '\n"a\n"b', '\n'.repeat(500)])),
        ]),
];

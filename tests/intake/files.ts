import { readFileSync } from 'node:fs';
import type { Kit, Method } from '../../src/generated/prisma/client.ts';
import type { FarmContext } from '../../src/intake/file/farm-context.ts';
import type { FileLine } from '../../src/intake/file/lines.rules.ts';
import { type ParsedFile, parseFile } from '../../src/intake/file/parse-file.ts';
import type { Answers } from '../../src/intake/file/questions.rules.ts';
import type { Quantity } from '../../src/water/quantities/quantities.ts';
import type { Answer, Visitor } from '../support/service.ts';

const seed = <T>(name: string): T =>
  JSON.parse(readFileSync(new URL(`../../seed/${name}.json`, import.meta.url), 'utf8')) as T;

/** What every farm starts with, and two systems. */
export function farm(
  methods: Partial<Method>[] = [],
  kits: Partial<Kit & { method: string }>[] = [],
): FarmContext {
  const quantities = seed<Quantity[]>('quantities');
  const all = [...seed<Partial<Method>[]>('methods'), ...methods].map((method, i) => {
    const id = `00000000-0000-7000-8000-${String(i).padStart(12, '0')}`;
    const own = kits.filter((kit) => kit.method === `${method.quantityCode} ${method.name}`);
    return {
      id,
      absolute: 0,
      relative: 0,
      detectionLimit: null,
      everyMinutes: null,
      laboratory: '',
      note: '',
      isDefault: false,
      ...method,
      kits: own.map((kit, k) => ({ id: `${id.slice(0, -2)}f${k}`, methodId: id, retiredAt: null, ...kit })),
    };
  });
  return {
    now: new Date('2026-11-24T08:00:00Z'),
    timeZone: 'Europe/Lisbon',
    systems: [
      { id: '00000000-0000-7000-8000-0000000000a1', name: 'Long run' },
      { id: '00000000-0000-7000-8000-0000000000a2', name: 'North hall' },
    ],
    instruments: {
      quantities: new Map(quantities.map((quantity) => [quantity.code, quantity])),
      methods: all.sort(
        (a, b) => Number(b.isDefault) - Number(a.isDefault),
      ) as unknown as FarmContext['instruments']['methods'],
    },
  };
}

const bytes = (content: string | Uint8Array) =>
  typeof content === 'string' ? new TextEncoder().encode(content) : content;

/** A file as it would be taken by that farm. */
export const read = (
  content: string | Uint8Array,
  answers: Answers = {},
  known = farm(),
): Promise<ParsedFile> => parseFile(known, bytes(content), answers);

/** A line in one string: "taken alkalinity 8.4 dKH", "nothing empty". */
export function said({ state, reason, parsed: kept }: FileLine): string {
  if (kept === null) return `${state} ${reason}`;
  const { quantity, reading } = kept;
  return `${state} ${quantity.code} ${reading.below ? '<' : reading.above ? '>' : ''}${reading.entered} ${reading.unit}`;
}

export const questionIds = ({ questions }: ParsedFile) => questions.map((question) => question.id);

/** Brings a file as a browser does. */
export function bring(
  visitor: Visitor,
  name: string,
  content: string | Uint8Array,
  to = '/water/imports',
): Promise<Answer> {
  const form = new FormData();
  form.set('pasted', '');
  form.set('file', new Blob([bytes(content) as Uint8Array<ArrayBuffer>], { type: 'text/csv' }), name);
  return visitor.send(to, form, { accept: 'text/html' });
}

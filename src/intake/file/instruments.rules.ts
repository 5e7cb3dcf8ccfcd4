import type { MethodFigures } from '../../water/entry/entry.rules.ts';
import { type Bench, instrumentOf } from '../../water/kits/instruments.ts';
import type { Quantity } from '../../water/quantities/quantities.ts';
import { plainName } from './names.rules.ts';
import {
  type Inquiry,
  leaveChoice,
  leaveOut,
  left,
  type Not,
  questionId,
  refusal,
  waits,
} from './questions.rules.ts';

/** What a file says a value was measured with. */
export interface Said {
  method: string;
  kit: string;
  laboratory: string;
}

/** The method as known, or the one that is added for a laboratory when the file is accepted. */
export interface Means {
  figures: MethodFigures | null;
  methodId: string | null;
  kitId: string | null;
  laboratory: string;
}

/** Where no laboratory method says of itself how sure it is: five per cent; own choice. */
const laboratoryRelative = 0.05;

/** What a value was measured with; `asked` and `refused` as for values. */
export function meansOf(
  bench: Bench,
  said: Said,
  quantity: Quantity,
  at: Date,
  row: number,
  inquiry: Inquiry,
): Means | Not {
  if (said.laboratory !== '') return laboratoryMeans(bench, said.laboratory, quantity);
  const kitId = chosenId('kit', said.kit, kitsOf(bench, quantity), quantity, row, inquiry);
  const methodId = chosenId('method', said.method, methodsOf(bench, quantity), quantity, row, inquiry);
  for (const id of [kitId, methodId]) {
    if (id === '') return waits;
    if (id === leaveOut) return left;
  }
  const named = { methodId: known(methodId), kitId: known(kitId) };
  const instrument = instrumentOf(bench, named, quantity, at);
  if ('refused' in instrument) return refusal(instrument.refused);
  const { method } = instrument;
  return { figures: method, methodId: method?.id ?? null, kitId: instrument.kitId, laboratory: '' };
}

const none = 'none';
const known = (id: string) => (id === none ? null : id);

/** The laboratory's own method of a quantity; one that nobody has yet stands in with usual figures. */
function laboratoryMeans(bench: Bench, laboratory: string, quantity: Quantity): Means {
  const own = bench.methods.filter((method) => method.quantityCode === quantity.code);
  const method = own.find((one) => plainName(one.laboratory) === plainName(laboratory));
  if (method !== undefined)
    return { figures: method, methodId: method.id, kitId: null, laboratory: method.laboratory };
  return { figures: laboratoryFigures(bench, quantity), methodId: null, kitId: null, laboratory };
}

/** How sure a laboratory that is new to the farm is taken to be: as laboratories in general are. */
export function laboratoryFigures({ methods }: Bench, quantity: Quantity): MethodFigures {
  const general = methods.find(
    (method) =>
      method.quantityCode === quantity.code && method.laboratory === '' && /^laboratory/i.test(method.name),
  );
  if (general === undefined) return { absolute: 0, relative: laboratoryRelative, detectionLimit: null };
  const { absolute, relative } = general;
  return { absolute, relative, detectionLimit: null };
}

interface Choice {
  id: string;
  name: string;
}

const methodsOf = ({ methods }: Bench, quantity: Quantity): Choice[] =>
  methods.filter((method) => method.quantityCode === quantity.code && method.laboratory === '');

const kitsOf = ({ methods }: Bench, quantity: Quantity): Choice[] =>
  methods
    .filter((method) => method.quantityCode === quantity.code)
    .flatMap((method) => method.kits.map((kit) => ({ id: kit.id, name: kit.label })));

/** The id a name stands for, `none` when nothing is named, else what was answered for that name. */
function chosenId(
  kind: 'method' | 'kit',
  name: string,
  choices: readonly Choice[],
  quantity: Quantity,
  row: number,
  inquiry: Inquiry,
): string {
  if (name === '') return none;
  const found = choices.find((choice) => plainName(choice.name) === plainName(name));
  if (found !== undefined) return found.id;
  const unsaid = kind === 'kit' ? 'No kit that we have' : 'The usual method';
  return inquiry.ask(questionId(kind, quantity.code, name), row, () => ({
    text: `Which ${kind} of ${quantity.name.toLowerCase()} is “${name}”?`,
    hint: 'It says how far the values are to be relied on.',
    choices: [
      ...choices.map((choice) => ({ value: choice.id, text: choice.name })),
      { value: none, text: unsaid },
      leaveChoice,
    ],
  }));
}

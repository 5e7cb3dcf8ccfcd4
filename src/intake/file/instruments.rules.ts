import type { MethodFigures } from '../../water/entry/entry.rules.ts';
import { type InstrumentCatalog, resolveInstrument } from '../../water/kits/instruments.ts';
import { nameInSentence } from '../../water/quantities/name.rules.ts';
import type { Quantity } from '../../water/quantities/quantities.ts';
import { normalizeName } from './names.rules.ts';
import {
  awaitingAnswer,
  leaveOutChoice,
  leaveOutValue,
  leftOut,
  type NotTaken,
  type QuestionList,
  questionId,
  refusedBecause,
} from './questions.rules.ts';

/** What a file says a value was measured with. */
export interface NamedInstrument {
  method: string;
  kit: string;
  laboratory: string;
}

/** The method as known, or the one that is added for a laboratory when the file is accepted. */
export interface MeasuredWith {
  figures: MethodFigures | null;
  methodId: string | null;
  kitId: string | null;
  laboratory: string;
}

/** Where no laboratory method says of itself how sure it is: five per cent; own choice. */
const laboratoryRelative = 0.05;

/** What a value was measured with; `asked` and `refused` as for values. */
export function measuredWith(
  catalog: InstrumentCatalog,
  stated: NamedInstrument,
  quantity: Quantity,
  at: Date,
  row: number,
  questions: QuestionList,
): MeasuredWith | NotTaken {
  if (stated.laboratory !== '') return laboratoryInstrument(catalog, stated.laboratory, quantity);
  const kitId = idByName('kit', stated.kit, kitsOf(catalog, quantity), quantity, row, questions);
  const methodId = idByName('method', stated.method, methodsOf(catalog, quantity), quantity, row, questions);
  for (const id of [kitId, methodId]) {
    if (id === '') return awaitingAnswer;
    if (id === leaveOutValue) return leftOut;
  }
  const named = { methodId: idOrNull(methodId), kitId: idOrNull(kitId) };
  const instrument = resolveInstrument(catalog, named, quantity, at);
  if ('refused' in instrument) return refusedBecause(instrument.refused);
  const { method } = instrument;
  return { figures: method, methodId: method?.id ?? null, kitId: instrument.kitId, laboratory: '' };
}

const none = 'none';
const idOrNull = (id: string) => (id === none ? null : id);

/** The laboratory's own method of a quantity; one that nobody has yet stands in with usual figures. */
function laboratoryInstrument(
  catalog: InstrumentCatalog,
  laboratory: string,
  quantity: Quantity,
): MeasuredWith {
  const own = catalog.methods.filter((method) => method.quantityCode === quantity.code);
  const method = own.find((one) => normalizeName(one.laboratory) === normalizeName(laboratory));
  if (method !== undefined)
    return { figures: method, methodId: method.id, kitId: null, laboratory: method.laboratory };
  return { figures: laboratoryFigures(catalog, quantity), methodId: null, kitId: null, laboratory };
}

/** How sure a laboratory that is new to the farm is taken to be: as laboratories in general are. */
export function laboratoryFigures({ methods }: InstrumentCatalog, quantity: Quantity): MethodFigures {
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

const methodsOf = ({ methods }: InstrumentCatalog, quantity: Quantity): Choice[] =>
  methods.filter((method) => method.quantityCode === quantity.code && method.laboratory === '');

const kitsOf = ({ methods }: InstrumentCatalog, quantity: Quantity): Choice[] =>
  methods
    .filter((method) => method.quantityCode === quantity.code)
    .flatMap((method) => method.kits.map((kit) => ({ id: kit.id, name: kit.label })));

/** The id a name stands for, `none` when nothing is named, else what was answered for that name. */
function idByName(
  kind: 'method' | 'kit',
  name: string,
  choices: readonly Choice[],
  quantity: Quantity,
  row: number,
  questions: QuestionList,
): string {
  if (name === '') return none;
  const found = choices.find((choice) => normalizeName(choice.name) === normalizeName(name));
  if (found !== undefined) return found.id;
  const unsaid = kind === 'kit' ? 'No kit that we have' : 'The usual method';
  return questions.ask(questionId(kind, quantity.code, name), row, () => ({
    text: `Which ${kind} of ${nameInSentence(quantity.name)} is “${name}”?`,
    hint: 'It says how far the values can be trusted.',
    choices: [
      ...choices.map((choice) => ({ value: choice.id, text: choice.name })),
      { value: none, text: unsaid },
      leaveOutChoice,
    ],
  }));
}

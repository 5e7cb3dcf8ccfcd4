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
  /** The name of the usual method, where the file names nothing that is known and it is assumed; else ''. */
  assumed: string;
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
  const usual = usualOf(catalog, quantity, at);
  const asking = { quantity, usual, row, questions };
  const kitId = idByName('kit', stated.kit, kitsOf(catalog, quantity), asking);
  const methodId = idByName('method', stated.method, methodsOf(catalog, quantity), asking);
  for (const id of [kitId, methodId]) {
    if (id === '') return awaitingAnswer;
    if (id === leaveOutValue) return leftOut;
  }
  const named = { methodId: idOrNull(methodId), kitId: idOrNull(kitId) };
  const instrument = resolveInstrument(catalog, named, quantity, at);
  if ('refused' in instrument) return refusedBecause(instrument.refused);
  const { method } = instrument;
  const assumed = named.methodId === null && named.kitId === null ? usual : '';
  return {
    figures: method,
    methodId: method?.id ?? null,
    kitId: instrument.kitId,
    laboratory: '',
    assumed,
  };
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
    return {
      ...{ figures: method, methodId: method.id, kitId: null },
      ...{ laboratory: method.laboratory, assumed: '' },
    };
  const figures = laboratoryFigures(catalog, quantity);
  return { figures, methodId: null, kitId: null, laboratory, assumed: '' };
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

/** The name of the method that values of a quantity count as read by where nothing else is said; '' where it has none. */
function usualOf(catalog: InstrumentCatalog, quantity: Quantity, at: Date): string {
  const usual = resolveInstrument(catalog, {}, quantity, at);
  return 'refused' in usual ? '' : (usual.method?.name ?? '');
}

interface Asking {
  quantity: Quantity;
  usual: string;
  row: number;
  questions: QuestionList;
}

/** A kit of whose quantity the farm has none: what becomes of its values is asked once for all quantities. */
function ofNoKit(name: string, { quantity, usual, row, questions }: Asking): string {
  const covers = `${quantity.name}: ${usual || 'no method'}`;
  return questions.ask(
    questionId('kit-unknown', name),
    row,
    () => ({
      text: `“${name}” is no kit of this farm. What were its values read with?`,
      hint: 'The method says how far a value can be off. Enter the kit first, under Water, Test kits, if you still have it.',
      choices: [
        { value: none, text: 'That is not known: take each as read by its usual method' },
        leaveOutChoice,
      ],
    }),
    covers,
  );
}

/** The id a name stands for, `none` when nothing is named, else what was answered for that name. */
function idByName(kind: 'method' | 'kit', name: string, choices: readonly Choice[], asking: Asking): string {
  if (name === '') return none;
  const found = choices.find((choice) => normalizeName(choice.name) === normalizeName(name));
  if (found !== undefined) return found.id;
  if (kind === 'kit' && choices.length === 0) return ofNoKit(name, asking);
  const { quantity, usual, row, questions } = asking;
  const by = usual === '' ? '' : `: ${usual}`;
  const unsaid =
    kind === 'kit' ? `None of these; taken as read by the usual method${by}` : `The usual method${by}`;
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

import { numberWords, plural } from '../../platform/words/numbers.ts';
import { readNumber, unitName } from '../../science/units.ts';
import {
  type Base,
  effectByProduct,
  effectTold,
  inBase,
  type ProductEffect,
  productKey,
  raisedCodes,
  raisesOther,
  strengthKept,
  strengthShown,
} from '../../water/dosing/product-effect.rules.ts';
import { riseNotKnown } from '../../water/log/words.rules.ts';
import { nameInSentence } from '../../water/quantities/name.rules.ts';
import type { Quantity } from '../../water/quantities/quantities.ts';
import { awaitingAnswer, type QuestionList, questionId } from '../file/questions.rules.ts';
import type { FileDose, LogContext, LogLine } from './log-reader.rules.ts';

/** More products than this are not asked about one by one while a file is brought; own choice. */
const mostAsked = 12;

type DoseLine = LogLine & { parsed: FileDose };

/** What was said of a product, and in which system. */
type Said = ProductEffect & { base: Base; system: string };

/**
 * Asks once for each product of which nobody has said what it raises, the commonest first, and gives its doses what is answered.
 * "Not known" is an answer. What doses that are here say of a product of that name is filled in, to be checked.
 */
export function askProducts(
  lines: readonly LogLine[],
  here: readonly FileDose[],
  farm: LogContext,
  { questions, notices }: { questions: QuestionList; notices: string[] },
): void {
  const unsaid = lines.filter(
    (line): line is DoseLine =>
      line.state === 'taken' && line.parsed?.kind === 'doses' && line.parsed.unsaid === true,
  );
  const products = [...Map.groupBy(unsaid, ({ parsed }) => productKey(parsed.substance))].sort(
    ([, a], [, b]) => b.length - a.length,
  );
  const said = products.length === 0 ? new Map<string, Said>() : saidOf(here, farm);
  for (const [key, own] of products.slice(0, mostAsked)) askProduct(key, own, said, farm, questions);
  const beyond = products.length - mostAsked;
  if (beyond > 0)
    notices.push(
      `What ${plural(beyond, 'more product raises', 'more products raise')} is not asked here. Say it on the page of doses; until then it is not known.`,
    );
}

const saidKey = (key: string, base: Base) => `${base} ${key}`;

/** What the doses that are here say of each product, the newest of each. */
function saidOf(here: readonly FileDose[], { systems }: LogContext): Map<string, Said> {
  const volumes = new Map(systems.map((system) => [system.id, system]));
  const found = new Map<string, Said>();
  for (const dose of [...here].sort((a, b) => a.at.getTime() - b.at.getTime())) {
    const system = volumes.get(dose.systemId);
    const told = system === undefined ? null : effectTold(dose, system.volumeL);
    if (told !== null && system !== undefined)
      found.set(saidKey(productKey(dose.substance), told.base), { ...told, system: system.name });
  }
  return found;
}

function askProduct(
  key: string,
  own: readonly DoseLine[],
  said: ReadonlyMap<string, Said>,
  farm: LogContext,
  questions: QuestionList,
): void {
  const name = own[0]?.parsed.substance.trim() ?? '';
  const bases = own.flatMap(({ parsed }) => inBase(parsed.amount, parsed.unit)?.base ?? []);
  const before = bases.flatMap((base) => said.get(saidKey(key, base)) ?? [])[0];
  for (const line of own) {
    const raises =
      line.parsed.quantityCode ??
      questions.ask(questionId('raises', key), line.row, () => raisesQuestion(name, before, farm));
    const quantity = farm.quantities.find(({ code }) => code === raises);
    const base = inBase(line.parsed.amount, line.parsed.unit)?.base;
    if (raises === '') leaveOpen(line);
    else if (raises === raisesOther) Object.assign(line.parsed, { quantityCode: null, effect: 0 });
    else if (quantity !== undefined && base !== undefined) {
      const told = said.get(saidKey(key, base));
      const proposed = told?.quantityCode === quantity.code ? told : undefined;
      giveStrength(line, { key, name, quantity, base, proposed }, farm, questions);
    }
  }
}

const leaveOpen = (line: LogLine) => Object.assign(line, { ...awaitingAnswer, parsed: null });

function raisesQuestion(name: string, before: Said | undefined, { quantities }: LogContext) {
  const quantity = quantities.find(({ code }) => code === before?.quantityCode);
  const as =
    before === undefined
      ? ''
      : `In ${before.system} it was said to raise ${quantity === undefined ? 'none of these' : nameInSentence(quantity.name)}. `;
  return {
    text: `What does “${name}” raise?`,
    hint: `${as}Its label says it. While it is not known, the use of what it may raise is not known either.`,
    choices: [
      ...raisedCodes.flatMap((code) => {
        const found = quantities.find((one) => one.code === code);
        return found === undefined ? [] : [{ value: code, text: found.name }];
      }),
      { value: raisesOther, text: 'Something else, none of these' },
      { value: 'unknown', text: 'Not known' },
    ],
    ...(before === undefined ? {} : { proposed: before.quantityCode ?? raisesOther }),
  };
}

/**
 * The number that was typed as a strength; null where it is said not to be known. "1.402" is a decimal, as this page writes it
 * itself; "1,050" may be a thousand, so it is no answer.
 */
function strengthIn(answer: string): number | null {
  const read = readNumber(answer);
  if (read.kind === 'number') return read.value;
  return read.kind === 'either' && read.separator === '.' ? read.decimal : null;
}

const isStrength = (answer: string): boolean =>
  answer.toLowerCase() === riseNotKnown || strengthIn(answer) !== null;

interface Asked {
  key: string;
  name: string;
  quantity: Quantity;
  base: Base;
  proposed: Said | undefined;
}

function giveStrength(
  line: DoseLine,
  { key, name, quantity, base, proposed }: Asked,
  { systems }: LogContext,
  questions: QuestionList,
): void {
  const unit = unitName(quantity.code, quantity.displayUnit);
  const { strength = null } = proposed ?? {};
  const answer = questions.ask(questionId('strength', key, base), line.row, () => ({
    text: `By how much do 100 ${base} of “${name}” in 100 L raise ${nameInSentence(quantity.name)}, in ${unit}?`,
    hint: `A number, as the label or your own tests say it, or “${riseNotKnown}”. ${proposed === undefined || strength === null ? '' : `${numberWords(strengthShown(quantity, strength))} ${unit} in ${proposed.system}. `}`.trim(),
    choices: [],
    takes: isStrength,
    proposed: strength === null ? riseNotKnown : String(strengthShown(quantity, strength)),
  }));
  if (answer === '') {
    leaveOpen(line);
    return;
  }
  const stated = strengthIn(answer);
  const said = {
    quantityCode: quantity.code,
    strength: stated === null ? null : strengthKept(quantity, stated),
  };
  const volumeL = systems.find(({ id }) => id === line.parsed.systemId)?.volumeL ?? 0;
  Object.assign(line.parsed, effectByProduct(said, line.parsed, volumeL));
}

import type { KitJudgement } from '../../science/control.ts';
import { biasWords, isBiased } from './bias.rules.ts';

/** A method or a kit to test with, as lists offer it. */
export interface KitChoice {
  /** "<method>" or "<method>/<kit>". */
  value: string;
  text: string;
  /** What speaks against its kit: "Kit 3 reads 10 % low (5 to 13 %), by a standard. ..."; '' where nothing does. */
  doubt?: string;
  /** Known to read wrong, so that another kit goes before it. */
  readsWrong?: boolean;
}

type Judged = Pick<KitJudgement, 'verdict' | 'bias' | 'sd' | 'by'> & { label: string };

/** The kit of a choice; '' where it names none. */
export const kitOf = ({ value }: Pick<KitChoice, 'value'>): string => value.split('/')[1] ?? '';

const byWords: Readonly<Record<KitJudgement['by'], string>> = {
  standard: 'by its tests of a standard',
  'third bottle': 'by a third bottle',
  'two bottles': 'by the bottle before',
  nothing: 'by what is known of it',
};

/** The same choices, each with what is known against its kit: how much it is off and by which check. */
export function withKitDoubts<C extends KitChoice>(
  choices: readonly C[],
  biases: ReadonlyMap<string, Judged>,
): C[] {
  return choices.map((choice) => {
    const kit = biases.get(kitOf(choice));
    if (kit === undefined) return choice;
    if (isBiased(kit)) {
      const off = `reads ${Math.round(Math.abs(kit.bias) * 100)} % ${kit.bias < 0 ? 'low' : 'high'}`;
      const doubt = `${kit.label} ${biasWords(kit)}, ${byWords[kit.by]}. Test with another kit where there is one.`;
      return { ...choice, text: `${choice.text}: ${off}`, doubt, readsWrong: true };
    }
    if (kit.verdict !== 'suspect') return choice;
    const doubt =
      kit.by === 'two bottles'
        ? `${kit.label} and the bottle before differ, and which is wrong is not known. A standard tells.`
        : `${kit.label} may read wrong, ${byWords[kit.by]}. Test a standard before you dose by it.`;
    return { ...choice, text: `${choice.text}: in doubt`, doubt };
  });
}

/**
 * What was used last where it is still in use, else the first of the same method, else the first of all. A kit that is known to
 * read wrong gives way to another kit of the quantity, of its own method first.
 */
export function chosenKit(
  used: { methodId: string | null; kitId: string | null } | undefined,
  hows: readonly KitChoice[],
): string {
  const { methodId = null, kitId = null } = used ?? {};
  const wanted = kitId === null ? methodId : `${methodId}/${kitId}`;
  const ofMethod = ({ value }: KitChoice) => methodId !== null && value.startsWith(methodId);
  const same = hows.find((how) => how.value === wanted) ?? hows.find(ofMethod) ?? hows[0];
  if (same === undefined || same.readsWrong !== true) return same?.value ?? '';
  const right = hows.filter((how) => kitOf(how) !== '' && how.readsWrong !== true);
  const own = right.find(({ value }) => value.split('/')[0] === same.value.split('/')[0]);
  return (own ?? right[0] ?? same).value;
}

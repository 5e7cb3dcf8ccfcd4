import { kinds, makeBeyond } from './beyond.ts';
import { take } from './reading.ts';

/** Seeds of the report; limits were chosen on pictures of seeds from 50,000. */
const REPORT = 46_000;

/**
 * Says what is said of photographs that cannot be read, or must not be: by exactly the one reason that is right, and by one that
 * is true and says what helps.
 * @param each of how many photographs a kind
 */
export async function refusals(say: (line: string) => void, each: number): Promise<void> {
  let [exactly, truly] = [0, 0];
  for (const [k, kind] of kinds.entries()) {
    const said = new Map<string, number>();
    for (let i = 0; i < each; i++) {
      const { scene, cards, shot } = await makeBeyond(kind, REPORT + 100 * k + i);
      const reading = await take(scene, shot, cards);
      const why = 'why' in reading ? reading.why : 'read';
      said.set(why, (said.get(why) ?? 0) + 1);
      if (why === kind.right) exactly++;
      if (why === kind.right || kind.alsoTrue?.some((also) => also === why)) truly++;
    }
    const counts = [...said].sort(([, a], [, b]) => b - a).map(([why, count]) => `${why} ${count}`);
    say(
      `  ${kind.name}: ${counts.join(', ')}${said.get(kind.right) === each ? '' : ` (${kind.right} is right)`}`,
    );
  }
  const all = each * kinds.length;
  say(`refused by exactly the right reason: ${exactly} of ${all}; by one that is true: ${truly} of ${all}`);
}

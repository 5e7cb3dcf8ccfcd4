import type { KitJudgement } from '../science/control.ts';
import { combine } from '../science/uncertainty.ts';

/** A reading as it would be without its kit's bias; canonical. */
export interface WithoutBias {
  value: number;
  uncertainty: number;
}

/** True where a kit is known to read wrong: only then are its readings shown corrected. */
export function readsWrong<K extends Pick<KitJudgement, 'verdict' | 'bias'>>(
  kit: K | undefined,
): kit is K & { bias: number } {
  return (
    kit !== undefined && kit.bias !== null && (kit.verdict === 'reads low' || kit.verdict === 'reads high')
  );
}

/**
 * A reading with its kit's bias taken out, its uncertainty grown by what is not known of the bias; null where the kit is
 * not known to read wrong, or the reading is only a limit.
 */
export function withoutBias(
  reading: { value: number; uncertainty: number; below: boolean },
  kit: Pick<KitJudgement, 'verdict' | 'bias' | 'sd'> | undefined,
): WithoutBias | null {
  if (reading.below || !readsWrong(kit)) return null;
  const value = reading.value / (1 + kit.bias);
  return { value, uncertainty: combine(reading.uncertainty / (1 + kit.bias), (kit.sd ?? 0) * value) };
}

/** "reads 9 % low (5 to 13 %)", with the interval that holds the bias 19 times in 20; whole, as the watch says it. */
export function biasWords({ bias, sd }: Pick<KitJudgement, 'bias' | 'sd'>): string {
  if (bias === null || sd === null) return 'not known';
  const [low, high] = [Math.abs(bias) - 1.96 * sd, Math.abs(bias) + 1.96 * sd].map((end) =>
    Math.round(end * 100),
  );
  const way = bias < 0 ? 'low' : 'high';
  const interval =
    (low ?? 0) >= 0
      ? `${low} to ${high} %`
      : `${Math.abs(low ?? 0)} % ${bias < 0 ? 'high' : 'low'} to ${high} % ${way}`;
  return `reads ${Math.round(Math.abs(bias) * 100)} % ${way} (${interval})`;
}

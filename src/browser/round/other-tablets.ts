/** How often a tablet asks whether somebody noted something on its round, ms. */
const every = 20_000;

/** Asks now and then, and when told to, whether the round has entries that the copy here lacks. */
export class OtherTablets {
  readonly #roundId: string;
  readonly #known: () => string | undefined;
  readonly #changed: () => void;

  constructor(roundId: string, known: () => string | undefined, changed: () => void) {
    this.#roundId = roundId;
    this.#known = known;
    this.#changed = changed;
    setInterval(() => void (document.hidden || this.ask()), every);
    document.addEventListener('visibilitychange', () => void (document.hidden || this.ask()));
  }

  async ask(): Promise<void> {
    const headers = { accept: 'application/json' };
    const answer = await fetch(`/api/rounds/${this.#roundId}/latest`, { headers }).catch(() => null);
    if (!answer?.ok) return;
    const { latest } = (await answer.json()) as { latest: string };
    if (latest !== this.#known()) this.#changed();
  }
}

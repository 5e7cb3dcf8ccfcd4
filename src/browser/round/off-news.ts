/** How often a page that stays open asks whether something was switched off since, ms. */
const every = 45_000;

interface OffNews {
  nowIso: string;
  /** The keys of what is off. */
  off: string[];
  /** The banner that says so. */
  html: string;
}

/** Asks now and then what is off, and tells when that has changed; ends where nobody is signed in. */
export function followOff(drawn: () => string[], changed: (news: OffNews) => void): void {
  const ask = async (): Promise<void> => {
    const back = encodeURIComponent(location.pathname);
    const answer = await fetch(`/api/switched-off?back=${back}`, {
      headers: { accept: 'application/json' },
    }).catch(() => null);
    if (answer?.status === 401) return clearInterval(timer);
    if (!answer?.ok) return;
    const news = (await answer.json()) as OffNews;
    if (news.off.toSorted().join() !== drawn().toSorted().join()) changed(news);
  };
  const timer = setInterval(() => void ask(), every);
  document.addEventListener('visibilitychange', () => void (document.hidden || ask()));
}

/** How often a tablet asks whether somebody noted something on its round, ms. */
const everyOnRound = 20_000;

/** Asks now and then, and when told to, whether the round has entries that the copy here lacks. */
export class OtherTablets {
  readonly #roundId: string;
  readonly #known: () => string | undefined;
  readonly #changed: () => void;

  constructor(roundId: string, known: () => string | undefined, changed: () => void) {
    this.#roundId = roundId;
    this.#known = known;
    this.#changed = changed;
    setInterval(() => void (document.hidden || this.ask()), everyOnRound);
    document.addEventListener('visibilitychange', () => void (document.hidden || this.ask()));
  }

  /** @param always fetch the round also where nobody noted anything: another screen of it is looked at */
  async ask(always = false): Promise<void> {
    const headers = { accept: 'application/json' };
    const answer = await fetch(`/api/rounds/${this.#roundId}/latest`, { headers }).catch(() => null);
    if (!answer?.ok) return;
    const { latest } = (await answer.json()) as { latest: string };
    if (always || latest !== this.#known()) this.#changed();
  }
}

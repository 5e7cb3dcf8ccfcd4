/** How often a page that stays open asks whether pumps were switched off since, ms. */
const every = 45_000;

interface PumpsNews {
  nowIso: string;
  /** The feedings after which pumps are off. */
  feedings: string[];
  /** The banner that says so. */
  html: string;
}

/** Asks now and then which pumps are off, and tells when that has changed; ends where nobody is signed in. */
export function followPumps(drawn: () => string[], changed: (news: PumpsNews) => void): void {
  const ask = async (): Promise<void> => {
    const back = encodeURIComponent(location.pathname);
    const answer = await fetch(`/api/pumps?back=${back}`, { headers: { accept: 'application/json' } }).catch(
      () => null,
    );
    if (answer?.status === 401) return clearInterval(timer);
    if (!answer?.ok) return;
    const news = (await answer.json()) as PumpsNews;
    if (news.feedings.toSorted().join() !== drawn().toSorted().join()) changed(news);
  };
  const timer = setInterval(() => void ask(), every);
  document.addEventListener('visibilitychange', () => void (document.hidden || ask()));
}

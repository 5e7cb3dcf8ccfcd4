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

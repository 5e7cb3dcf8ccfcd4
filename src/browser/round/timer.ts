const two = (n: number) => String(n).padStart(2, '0');

/** "11:20" until a moment, "1:05:00" when hours; past it "9 s late", "3 min 40 s late", "1 h 05 min late". */
export function countdown(due: Date, now: Date): { text: string; late: boolean } {
  const left = Math.round((due.getTime() - now.getTime()) / 1000);
  const seconds = Math.abs(left);
  const [h, m, s] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60, seconds % 60];
  if (left < 0) {
    const ago = h > 0 ? `${h} h ${two(m)} min` : m > 0 ? `${m} min ${two(s)} s` : `${s} s`;
    return { text: `${ago} late`, late: true };
  }
  return { text: h > 0 ? `${h}:${two(m)}:${two(s)}` : `${m}:${two(s)}`, late: false };
}

/**
 * Counts down every timer of the page, each second, by the service's clock, and sounds while one is late.
 * `serverNow`: what the service's clock showed as the page was drawn, whatever this device's own shows.
 */
export function runTimers(serverNow: string | undefined): void {
  const ahead = serverNow === undefined ? 0 : Date.parse(serverNow) - Date.now();
  allowSound();
  const tick = () => {
    const late = [...document.querySelectorAll<HTMLElement>('[data-due]')].map((timer) => tell(timer, ahead));
    document.documentElement.classList.toggle('pumps-late', late.includes(true));
    if (late.includes(true)) sound();
  };
  tick();
  setInterval(tick, 1000);
}

/** Shows what is left of one timer; true when it is late. */
function tell(timer: HTMLElement, ahead: number): boolean {
  // What was tapped here without a network is timed by this device's clock alone.
  const now = timer.dataset.clock === 'own' ? Date.now() : Date.now() + ahead;
  const { text, late } = countdown(new Date(timer.dataset.due ?? ''), new Date(now));
  const value = timer.querySelector('.val');
  if (value === null) return late;
  value.textContent = text;
  timer.classList.toggle('late', late);
  const words = timer.querySelector('[data-due-words]');
  if (words !== null) words.textContent = late ? 'should run again' : 'back in';
  return late;
}

/** How often it sounds until somebody says that the pumps run, ms. */
const every = 15_000;
let audio: AudioContext | null = null;
let last = 0;

/** Lets the page sound later: browsers allow it once somebody has touched the page. */
export function allowSound(): void {
  const wake = () => {
    audio ??= new AudioContext();
    void audio.resume();
  };
  for (const gesture of ['pointerdown', 'keydown']) addEventListener(gesture, wake, { capture: true });
}

/** Sounds three short tones, if it may and has not just done so. */
export function sound(now = Date.now()): void {
  if (audio === null || audio.state !== 'running' || now - last < every) return;
  last = now;
  for (const [i, pitch] of [880, 660, 880].entries()) tone(audio, pitch, audio.currentTime + i * 0.35);
}

function tone(context: AudioContext, pitch: number, at: number): void {
  const [source, loudness] = [context.createOscillator(), context.createGain()];
  source.frequency.value = pitch;
  loudness.gain.setValueAtTime(0.0001, at);
  loudness.gain.exponentialRampToValueAtTime(0.5, at + 0.02);
  loudness.gain.exponentialRampToValueAtTime(0.0001, at + 0.3);
  source.connect(loudness).connect(context.destination);
  source.start(at);
  source.stop(at + 0.32);
}

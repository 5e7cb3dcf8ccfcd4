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

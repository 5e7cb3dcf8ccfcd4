// Sends each file's own date along: where neither a person nor the camera says when a photograph was taken, it is the best
// that is known, and no more than a guess, since a file that was copied may carry the day of that. What will be taken is said
// beside the files before anything is sent. The form works without this script too.
import { exifOfJpeg, readCameraNotes } from '../science/photograph/exif.ts';

/** So much of a file holds what its camera wrote, bytes (Exif: one segment near the beginning). */
const NOTES = 131_072;

const wordsOf = (at: number | string) =>
  new Date(at).toLocaleString('en-GB', { dateStyle: 'medium', timeStyle: 'short' });

/** When a file's camera says it was taken, by the camera's own clock; null where it does not say. */
async function cameraTime(file: File): Promise<string | null> {
  const head = new Uint8Array(await file.slice(0, NOTES).arrayBuffer());
  return readCameraNotes(exifOfJpeg(head)).takenAt?.local ?? null;
}

async function sayTimes(files: readonly File[]): Promise<string> {
  const times = await Promise.all(files.map(cameraTime));
  const told = times.filter((time) => time !== null);
  const guessed = files.filter((_, i) => times[i] === null).map(({ lastModified }) => wordsOf(lastModified));
  const by = told.length === 0 ? '' : `By the camera’s own clock: ${told.map(wordsOf).join('; ')}.`;
  const guess =
    guessed.length === 0
      ? ''
      : `A guess, by the date of the file, since its camera does not say: ${guessed.join('; ')}. A file that was copied or downloaded may carry that day instead. Enter the time where you know it.`;
  return [by, guess].filter((words) => words !== '').join(' ');
}

function follow(form: HTMLFormElement): void {
  const input = form.querySelector<HTMLInputElement>('input[type="file"]');
  const dates = form.querySelector<HTMLInputElement>('input[name="fileDates"]');
  const said = form.querySelector<HTMLElement>('[data-file-dates-said]');
  if (input === null || dates === null || said === null) return;
  let asked = 0;
  const tell = async () => {
    const files = [...(input.files ?? [])];
    dates.value = files.map(({ lastModified }) => lastModified).join(' ');
    asked++;
    const turn = asked;
    const words = await sayTimes(files);
    // Others may have been chosen meanwhile.
    if (turn !== asked) return;
    said.textContent = words;
    said.hidden = words === '';
  };
  input.addEventListener('change', () => void tell());
  // A page that comes back keeps its files.
  void tell();
}

for (const form of document.querySelectorAll<HTMLFormElement>('[data-file-dates]')) follow(form);

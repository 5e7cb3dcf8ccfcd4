// Reads QR codes with the tablet's camera, or from a photo, and asks the service what they mean: opens it, or ticks the lot.
// Where the browser has a reader of its own, that is used; else a reader in WebAssembly. Without this script the code is typed.

import { prepareZXingModule, readBarcodes } from 'zxing-wasm/reader';

interface Found {
  href: string;
  lot: string | null;
  words: string;
}

interface Detector {
  detect(source: ImageBitmapSource): Promise<{ rawValue: string }[]>;
}
type DetectorClass = {
  new (options: { formats: string[] }): Detector;
  getSupportedFormats(): Promise<string[]>;
};

// The library would ask a server elsewhere for its program; it is one of our own files.
prepareZXingModule({ overrides: { locateFile: (path: string) => `/assets/${path}` } });

const form = document.querySelector<HTMLFormElement>('[data-scan]');
const part = <T extends HTMLElement>(name: string) => form?.querySelector<T>(`[data-scan-${name}]`) ?? null;
const video = part<HTMLVideoElement>('video');
const said = part('said');
const ticks = form?.dataset.scan === 'tick';

/** Longest side of a picture that is read, px (own choice): larger ones only take longer. */
const LARGEST = 1600;
/** How often the camera's picture is read, ms; how long the same code is not taken again, ms (own choices). */
const EVERY = 150;
const SAME = 3000;

let stream: MediaStream | null = null;
let last = { text: '', at: 0 };

async function nativeDetector(): Promise<Detector | null> {
  const known = (globalThis as { BarcodeDetector?: DetectorClass }).BarcodeDetector;
  if (known === undefined) return null;
  const formats = await known.getSupportedFormats().catch((): string[] => []);
  return formats.includes('qr_code') ? new known({ formats: ['qr_code'] }) : null;
}
const detector = nativeDetector();

/** The text of a QR code in a picture; null where there is none. */
async function readPicture(
  source: HTMLVideoElement | ImageBitmap,
  width: number,
  height: number,
): Promise<string | null> {
  const native = await detector;
  if (native !== null) return (await native.detect(source).catch(() => []))[0]?.rawValue ?? null;
  const scale = Math.min(1, LARGEST / Math.max(width, height));
  const canvas = document.createElement('canvas');
  canvas.width = Math.round(width * scale);
  canvas.height = Math.round(height * scale);
  const context = canvas.getContext('2d', { willReadFrequently: true });
  if (context === null || canvas.width === 0) return null;
  context.drawImage(source, 0, 0, canvas.width, canvas.height);
  const picture = context.getImageData(0, 0, canvas.width, canvas.height);
  const [code] = await readBarcodes(picture, { formats: ['QRCode'], maxNumberOfSymbols: 1 });
  return code?.isValid === true ? code.text : null;
}

function say(text: string): void {
  if (said !== null) said.textContent = text;
}

async function ask(text: string): Promise<Found | string> {
  const query = new URLSearchParams({ read: text });
  try {
    const answer = await fetch(`/api/scan?${query}`, { headers: { accept: 'application/json' } });
    const body = await answer.json();
    return answer.ok ? body : (body.detail ?? 'That cannot be told now.');
  } catch {
    return 'No answer: is the network there?';
  }
}

function tick(code: string): void {
  const boxes = [...(form?.querySelectorAll<HTMLInputElement>('input[name="lot"]') ?? [])];
  const there = boxes.find((box) => box.value === code);
  if (there?.checked) {
    say(`${code} is ticked already.`);
    return;
  }
  const box = there ?? addBox(code);
  box.checked = true;
  box.dispatchEvent(new Event('change', { bubbles: true }));
  say(`${code} is ticked.`);
}

function addBox(code: string): HTMLInputElement {
  const box = document.createElement('input');
  Object.assign(box, { type: 'checkbox', name: 'lot', value: code });
  const words = document.createElement('span');
  words.className = 'lot-code';
  words.textContent = code;
  const label = document.createElement('label');
  label.className = 'choice';
  label.append(box, words);
  const row = document.createElement('li');
  row.append(label);
  part('ticked')?.prepend(row);
  return box;
}

async function take(text: string): Promise<void> {
  const now = Date.now();
  if (text === last.text && now - last.at < SAME) return;
  last = { text, at: now };
  const found = await ask(text);
  if (typeof found === 'string') return say(found);
  navigator.vibrate?.(60);
  if (!ticks) {
    stop();
    location.assign(found.href);
  } else if (found.lot === null)
    say(`${found.words} is not a lot. Scan a lot, its slot or its tag to tick it.`);
  else tick(found.lot);
}

async function watch(): Promise<void> {
  if (stream === null || video === null) return;
  if (video.videoWidth > 0) {
    const text = await readPicture(video, video.videoWidth, video.videoHeight).catch(() => null);
    if (text !== null && stream !== null) await take(text);
  }
  setTimeout(watch, EVERY);
}

function show(running: boolean): void {
  if (video !== null) video.hidden = !running;
  const [start, end] = [part('start'), part('stop')];
  if (start !== null) start.hidden = running;
  if (end !== null) end.hidden = !running;
}

async function start(): Promise<void> {
  try {
    stream = await navigator.mediaDevices.getUserMedia({
      audio: false,
      video: { facingMode: 'environment', width: { ideal: 1280 } },
    });
  } catch {
    return say('The camera cannot be used. Allow it in the browser, take a photo, or type the code.');
  }
  if (video === null) return;
  video.srcObject = stream;
  show(true);
  await video.play();
  say('Hold the code before the camera.');
  void watch();
}

function stop(): void {
  for (const track of stream?.getTracks() ?? []) track.stop();
  stream = null;
  show(false);
}

async function readPhoto(input: HTMLInputElement): Promise<void> {
  const [file] = input.files ?? [];
  input.value = '';
  if (file === undefined) return;
  say('Reading the photo …');
  const picture = await createImageBitmap(file).catch(() => null);
  if (picture === null) return say('That is not a picture. Take a photo of the code.');
  const text = await readPicture(picture, picture.width, picture.height).catch(() => null);
  if (text === null) return say('No code was found in the photo. Go nearer, hold still, and take another.');
  last = { text: '', at: 0 };
  await take(text);
}

if (form !== null) {
  const hasCamera = navigator.mediaDevices?.getUserMedia !== undefined;
  const [camera, begin, photo] = [part('camera'), part('start'), part<HTMLInputElement>('photo')];
  if (camera !== null) camera.hidden = false;
  if (begin !== null) begin.hidden = !hasCamera;
  const insecure = part('insecure');
  if (insecure !== null) insecure.hidden = hasCamera;
  begin?.addEventListener('click', start);
  part('stop')?.addEventListener('click', stop);
  photo?.addEventListener('change', () => readPhoto(photo));
  addEventListener('pagehide', stop);
}

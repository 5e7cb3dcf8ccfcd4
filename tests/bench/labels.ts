// How long labels take, set in their thread as the service does: 100 of them on A4, QR codes and all; and how long that
// holds the loop.
import { printLabels } from '../../src/tags/labels/printing.ts';
import { watchLoop } from './loop.ts';

const sheet = {
  ...{ pageWidthMm: 210, pageHeightMm: 297, widthMm: 70, heightMm: 37 },
  ...{ rows: 8, columns: 3, topMm: 0.5, leftMm: 0, gapXMm: 0, gapYMm: 0 },
};
const text = {
  code: 'R46-TKR',
  name: 'Goniastrea cf. edwardsi',
  standing: 'uncertain, sold as such; named by Ines Varga, 2 March 2026',
  lines: [
    { label: 'Light', text: 'PAR 90, 3.2 mol a day' },
    { label: 'Flow', text: 'medium; no jet on it' },
    { label: 'Water', text: 'Alk 8.2 dKH · Calcium 425 mg/L · Nitrate 8.0 mg/L as NO₃ · Salinity 35.0 PSU' },
    { label: 'Fed', text: '8 times in 30 days, pumps off 30 min' },
  ],
  foot: 'Saltgate Yard · 24 November 2026 · scan for its acclimation',
};
const labels = Array.from({ length: 100 }, (_, i) => ({
  text,
  address: `https://farm.example.org/t/AbCdEfGhIjKlMnOpQrSt${String(i).padStart(2, '0')}`,
}));

/** Processor time since, which other work on the machine does not lengthen as it does the clock's. */
function cpuMs(since: NodeJS.CpuUsage): number {
  const { user, system } = process.cpuUsage(since);
  return (user + system) / 1000;
}

const loop = watchLoop();
for (const run of ['first', 'second']) {
  const began = performance.now();
  const busy = process.cpuUsage();
  const file = await printLabels({ labels, sheet });
  const ms = performance.now() - began;
  process.stdout.write(
    `100 labels, ${run} run: ${ms.toFixed(0)} ms (${cpuMs(busy).toFixed(0)} ms of work), ${(file.length / 1024).toFixed(0)} kB\n`,
  );
}
loop.stop();
process.stdout.write(`longest the loop was held: ${loop.longestMs().toFixed(0)} ms\n`);

import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { Resvg } from '@resvg/resvg-js';
import { pictureStyle, tonesOf } from '../views/tones.ts';

const require = createRequire(import.meta.url);
const face = require.resolve(
  '@expo-google-fonts/atkinson-hyperlegible-next/400Regular/AtkinsonHyperlegibleNext_400Regular.ttf',
);
const sheet = readFileSync(new URL('../../../views/assets/evenwater.css', import.meta.url), 'utf8');
const style = `<style>${pictureStyle(sheet)}</style>`;
const paper = tonesOf(sheet, 'light').get('paper') ?? '#ffffff';

/** A drawing as a PNG on the light page's paper, twice its size so that it stays sharp; for where svg is not shown. */
export function pngOf(svg: string): Buffer {
  const drawn = svg.replace(/^<svg/, '<svg xmlns="http://www.w3.org/2000/svg"').replace('>', `>${style}`);
  const font = { loadSystemFonts: false, fontFiles: [face], defaultFontFamily: 'Atkinson Hyperlegible Next' };
  return Buffer.from(
    new Resvg(drawn, { background: paper, fitTo: { mode: 'zoom', value: 2 }, font }).render().asPng(),
  );
}

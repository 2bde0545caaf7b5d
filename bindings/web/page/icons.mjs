// Draws the page's icons from the project's own SVG, in Debian's Chromium:
// `CHALKWALK_NODE=FOLDER node icons.mjs`. They are kept beside the page; draw them anew when the SVG changes.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const here = dirname(fileURLToPath(import.meta.url));
const { chromium } = createRequire(join(process.env.CHALKWALK_NODE, 'package.json'))('playwright-core');
const mark = readFileSync(join(here, '../../../sync-server/assets/icon.svg'), 'utf8');
const GROUND = '#27343a';

// The mark brings its own round sheet. A maskable icon may be cut to a circle, so it stands within the
// inner eight tenths of a sheet that fills the square; so does the one that a phone rounds by itself.
const ICONS = [['icon-192', 192, 1, 'transparent'], ['icon-512', 512, 1, 'transparent'], ['maskable-512', 512, 0.84, GROUND], ['touch-180', 180, 1, GROUND]];

const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox', '--disable-gpu'] });
for (const [name, size, part, ground] of ICONS) {
  const tab = await browser.newPage({ viewport: { width: size, height: size } });
  const side = Math.round(size * part);
  await tab.setContent(`<style>html,body{margin:0;background:transparent}div{width:${size}px;height:${size}px;display:grid;place-items:center;background:${ground}}svg{width:${side}px;height:${side}px}</style><div>${mark}</div>`);
  await tab.screenshot({ path: join(here, 'icons', `${name}.png`), omitBackground: true });
  await tab.close();
}
await browser.close();

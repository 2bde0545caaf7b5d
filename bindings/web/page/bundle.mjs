// Bundles the page into a folder: `node bundle.mjs MODULES DIST`.
import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { cpSync, mkdirSync, readdirSync, readFileSync, rmSync, statSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';
import { gzipSync } from 'node:zlib';

const [modules, dist] = process.argv.slice(2);
const here = dirname(fileURLToPath(import.meta.url));
const assets = join(here, '../../../sync-server/assets');
const esbuild = createRequire(join(modules, 'package.json'))('esbuild');

for (const name of readdirSync(dist)) if (name !== 'README.md') rmSync(join(dist, name), { recursive: true });
// What every browser of the last years reads, and what the compiler uses.
const features = ['simd', 'bulk-memory', 'bulk-memory-opt', 'nontrapping-float-to-int', 'sign-ext', 'mutable-globals', 'reference-types', 'multivalue', 'call-indirect-overlong']
  .map((feature) => `--enable-${feature}`);
// Passes that shrink what is sent. The usual -Os makes the file smaller and its gzip larger.
const passes = ['remove-unused-module-elements', 'duplicate-function-elimination', 'vacuum', 'remove-unused-module-elements',
  'duplicate-function-elimination', 'dae', 'merge-blocks', 'remove-unused-brs', 'remove-unused-names', 'vacuum', 'rse', 'vacuum',
  'optimize-instructions', 'vacuum', 'simplify-locals-nostructure', 'vacuum', 'reorder-locals'].map((pass) => `--${pass}`);
for (const name of ['engine', 'photo']) {
  execFileSync(join(modules, 'node_modules/.bin/wasm-opt'), [...features, ...passes, join(here, `${name}/${name}_bg.wasm`), '-o', join(here, `${name}/${name}.wasm`)], { stdio: 'inherit' });
}

// A module's file is named by what is in it: what loads it later never meets another version's.
const shared = { bundle: true, format: 'esm', target: ['chrome111', 'safari16.4', 'firefox113'], minify: true, nodePaths: [join(modules, 'node_modules')], logLevel: 'warning', legalComments: 'eof', loader: { '.wasm': 'file' }, assetNames: '[name]-[hash]' };
await esbuild.build({ ...shared, entryPoints: [join(here, 'src/app.ts'), join(here, 'src/worker.ts')], outdir: dist, splitting: true, chunkNames: '[name]-[hash]' });
await esbuild.build({ ...shared, entryPoints: [join(here, 'src/first.ts')], outdir: dist, format: 'iife' });
for (const file of ['index.html', 'field.css', 'app.webmanifest']) cpSync(join(here, file), join(dist, file));
mkdirSync(join(dist, 'fonts'));
for (const font of ['text.woff2', 'head.woff2']) cpSync(join(assets, 'fonts', font), join(dist, 'fonts', font));
cpSync(join(here, 'icons'), join(dist, 'icons'), { recursive: true });
cpSync(join(assets, 'icon.svg'), join(dist, 'icons/icon.svg'));
const source = readdirSync(join(here, 'src'), { recursive: true }).filter((name) => String(name).endsWith('.ts'))
  .map((name) => readFileSync(join(here, 'src', String(name)), 'utf8')).join('\n');
const icons = new Set([...source.matchAll(/icon\('([a-z0-9-]+)'\)|\? '(image)' : '(camera)'/g)].flatMap((found) => found.slice(1)).filter(Boolean));
for (const name of icons) cpSync(join(assets, 'icons', `${name}.svg`), join(dist, 'icons', `${name}.svg`));

const all = readdirSync(dist, { recursive: true }).map(String).filter((name) => !name.endsWith('.md') && statSync(join(dist, name)).isFile()).sort();
const hash = createHash('sha256');
for (const name of all) hash.update(name).update(readFileSync(join(dist, name)));
const files = ['./', ...all.filter((name) => name !== 'index.html')];
await esbuild.build({ ...shared, entryPoints: [join(here, 'src/sw.ts')], outfile: join(dist, 'sw.js'), format: 'iife',
  define: { VERSION: JSON.stringify(hash.digest('hex').slice(0, 16)), FILES: JSON.stringify(files) } });

const sizes = all.filter((name) => name.endsWith('.wasm')).map((name) => [name, gzipSync(readFileSync(join(dist, name)), { level: 9 }).length]);
const whole = sizes.reduce((sum, [, size]) => sum + size, 0);
for (const [name, size] of sizes) console.log(`${name}: ${(size / 1e6).toFixed(2)} MB gzipped`);
console.log(`${relative(process.cwd(), dist)}: ${files.length} files; ${(whole / 1e6).toFixed(2)} MB of wasm gzipped`);
// What a page needs before it can record; the module that reads photos is loaded when it is idle.
const atOnce = sizes.filter(([name]) => !name.startsWith('photo')).reduce((sum, [, size]) => sum + size, 0);
if (atOnce > 1_500_000) throw new Error('what is loaded at once is over 1.5 MB gzipped');
if (whole > 1_500_000) console.log('over the aim of 1.5 MB with the reading of photos');

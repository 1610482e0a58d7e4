/** Pictures of the pages for the README, of invented runs: `npm run pictures`, or `npm run pictures -- live run` for some. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openBrowser } from '../browser/page-server.js';
import { demoBench, type DemoBench } from './demo-bench.js';
import { pictures, type Picture } from './picture-list.js';
import { playedBench } from './played-bench.js';
import { seasonBench } from './season-bench.js';

/** Runs of the demo before anything is taken, so that lists are not empty; each lasts about a minute. */
const demoRuns = 2;
const named = process.argv.slice(2);
const wanted = pictures.filter(({ name }) => named.length === 0 || named.includes(name));
if (wanted.length === 0) {
  console.error(`There is no picture '${named.join(' ')}'; there are ${pictures.map(({ name }) => name).join(', ')}.`);
  process.exit(2);
}

const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-pictures-'));
const starts: Readonly<Record<Picture['bench'], () => Promise<DemoBench>>> = {
  played: playedBench,
  demo: () => demoBench(folder, demoRuns, (text) => console.log(`  ${text}`)),
  season: () => seasonBench(folder),
};
const running = new Map<Picture['bench'], DemoBench>();
try {
  const browser = await openBrowser();
  for (const bench of new Set(wanted.map((picture) => picture.bench))) {
    console.log(`setting up: ${bench}`);
    running.set(bench, await starts[bench]());
  }
  for (const { name, bench, address, ready } of wanted) {
    const page = await browser.newPage({ viewport: { width: 1280, height: 900 }, locale: 'en-GB' });
    await page.goto(`${running.get(bench)?.address ?? ''}${address}`);
    await ready(page);
    // What is asked for once the page is there has come when nothing more is under way.
    await page.waitForTimeout(1500);
    await page.screenshot({ path: join('dashboards', `${name}-page.png`) });
    console.log(`dashboards/${name}-page.png`);
    await page.close();
  }
  await browser.close();
} finally {
  for (const bench of running.values()) await bench.stop();
  rmSync(folder, { recursive: true, force: true });
}

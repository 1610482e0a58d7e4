import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { testPlaylist } from '../../simulators/player.js';
import { run as runOf } from '../../simulators/run-scenario.js';
import type { Outcome } from '../../src/core/outcome.js';
import { pdfText } from '../certificate/pdf-reading.js';
import { build, CommandLine, eventually } from './command-line.js';
import { LivePage, openBrowser } from './live-page.js';
import { SerialBench } from './serial-bench.js';
import { unhurried } from './unhurried.js';

let browser: Browser;
beforeAll(async () => {
  build();
  browser = await openBrowser();
});
afterAll(async () => {
  await browser.close();
});

it('keyed in at the page, tested on the simulated bench behind its serial device, seen, certified: figures as judge gives them', async () => {
  const [pass] = testPlaylist;
  if (pass === undefined) throw new Error('there is no run to play');
  const played = runOf(unhurried(pass), 1);
  const bench = await SerialBench.make('west bench', played);
  const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-day-'));
  try {
    await bench.start();
    const { page } = await LivePage.open(browser, bench.page);
    await page.getByRole('button', { name: 'Job details' }).click();
    await page.getByLabel('Order', { exact: true }).fill('4711');
    await page.getByLabel('Assemblies', { exact: true }).fill('A17-001..002');
    await page.getByLabel('Operator', { exact: true }).fill('J. Doe');
    await page.getByRole('button', { name: 'Save job' }).click();
    await page.getByText('Next run: order 4711').waitFor();
    const playing = bench.playRun(played);
    await page.getByText('This run: order 4711').waitFor({ timeout: 40_000 });
    // In mid-run: the page is loaded again.
    await page.reload();
    await page.getByText('This run: order 4711').waitFor({ timeout: 40_000 });
    await playing;
    await bench.untilRuns(1);
    await page.getByRole('button', { name: 'Say what was seen' }).click();
    await page.getByText('No leakage seen', { exact: true }).click();
    await page.getByRole('button', { name: 'Save what was seen' }).click();
    await page.getByText('No leakage seen. Stated by J. Doe.').waitFor();
    const [saved] = await Promise.all([page.waitForEvent('download'), page.getByRole('link', { name: 'Save certificate' }).click()]);
    await saved.saveAs(join(folder, 'c.pdf'));
    const text = pdfText(readFileSync(join(folder, 'c.pdf'))).replaceAll(/\s+/g, ' ');
    for (const word of ['PASS', '4711', 'A17-001', 'A17-002', 'no leakage seen. Stated by J. Doe', 'PROVISIONAL', 'customer']) expect(text).toContain(word);

    // The exported trace, judged by the command line with the plan and thresholds of the bench.
    const trace = await fetch(`${bench.page}/api/benches/west%20bench/runs/1/trace.csv`);
    writeFileSync(join(folder, 'trace.csv'), Buffer.from(await trace.arrayBuffer()));
    const judged = new CommandLine(['judge', join(folder, 'trace.csv'), '--plan', join(bench.folder, 'plan.yaml'), '--thresholds', join(bench.folder, 'thresholds.yaml'), '--resolution', '0.01 bar', '--json'], folder);
    expect(await judged.exit()).toBe(0);
    const outcome = await eventually('the outcome', () => (judged.stdout.includes('\n') ? (JSON.parse(judged.stdout) as Outcome) : undefined));
    for (const { rule, measured, limit } of outcome.findings) {
      if (measured !== null) expect(text).toContain(`${rule} ✓ met ${[measured, limit].filter((part) => part !== null).join(' ')}`);
    }
    const [cycle] = outcome.cycles;
    for (const value of [cycle?.peak, cycle?.holdStartPressure, cycle?.holdMinimum, cycle?.drop]) expect(text).toContain(`${value} bar`);
    // The run on record, found by its order and opened with its trace.
    await page.goto(`${bench.page}/history/?order=4711`);
    await page.getByRole('link', { name: 'Run 1', exact: true }).click();
    await page.locator('.run-head').getByText('A17-002: pass').waitFor();
    await page.locator('.chart[data-highest-bar]').waitFor();
    expect(Number(await page.locator('.chart').getAttribute('data-highest-bar'))).toBeGreaterThanOrEqual(cycle?.peak ?? Infinity);
    expect(await bench.program?.end()).toBe(0);
  } finally {
    await bench.clear();
    rmSync(folder, { recursive: true, force: true });
  }
}, 180_000);

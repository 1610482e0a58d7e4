import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { FastifyInstance } from 'fastify';
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { documentMaker } from '../../src/certificate/document-maker.js';
import { parseBench } from '../../src/acquisition/bench-file.js';
import { deskOf } from '../../src/daemon/desk-of.js';
import { setupDeskOf } from '../../src/daemon/setup-desk-of.js';
import { HttpServer } from '../../src/server/http-server.js';
import { libraryRoutes } from '../../src/server/library-routes.js';
import { operatorRoutes } from '../../src/server/operator-routes.js';
import { pdfText } from '../certificate/pdf-reading.js';
import { calibration, shop } from '../certificate/tested-bench.js';
import { HandBench, judgingBy } from '../daemon/hand-bench.js';
import { until } from '../server/until.js';
import { buildPages, sharedBrowser } from './page-server.js';

let browser: Browser;
let pages: Awaited<ReturnType<typeof buildPages>>;
let bench: HandBench;
let server: HttpServer;
let page: Page;
let complaints: string[];
const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-shots-'));

beforeAll(async () => {
  pages = await buildPages();
  browser = await sharedBrowser();
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));
beforeEach(async () => {
  bench = new HandBench(judgingBy({ maximumDrop: '3 %' }), { calibration });
  await serve();
  page = await open();
});
afterEach(async () => {
  await page.close();
  await server.close();
  bench.clear();
});

async function serve(): Promise<void> {
  const documents = documentMaker({ store: join(bench.folder, 'records.sqlite'), software: 'dwellkeeper test', shop });
  const desk = deskOf(bench.daemon, documents, shop.zone, () => bench.at.wall);
  const input = { driver: 'serial-line', path: '/dev/ttyS9' };
  const plans = setupDeskOf(bench.daemon, parseBench({ bench: 'north bench', channels: [{ input, unit: 'bar', range: { upper: '1000 bar' } }] }, join(bench.folder, 'bench.yaml')), judgingBy(), () => undefined);
  const routes = (app: FastifyInstance): void => {
    operatorRoutes(app, [desk]);
    libraryRoutes(app, [plans]);
  };
  server = await HttpServer.start({ benches: [bench.daemon.feed], pages: pages.folder, routes });
  bench.daemon.start();
  bench.ramp(0, 0, 2);
}

async function open(): Promise<Page> {
  const opened = await browser.newPage({ viewport: { width: 1280, height: 800 }, acceptDownloads: true });
  complaints = [];
  opened.on('pageerror', (error) => complaints.push(String(error)));
  opened.on('console', (line) => {
    if (line.type() === 'error' || line.type() === 'warning') complaints.push(line.text());
  });
  await opened.goto(`${server.address}/live/`);
  await until('live', async () => (await opened.locator('body').getAttribute('data-stale')) === 'false');
  return opened;
}

const text = async (id: string): Promise<string> => (await page.locator(`#${id}`).textContent()) ?? '';
const fill = (label: string, value: string) => page.getByLabel(label, { exact: true }).fill(value);
/** As a scanner types: at once, with Enter. @returns whether Enter may still press what has the focus */
function scan(code: string): Promise<boolean> {
  // One call for all keys: what lies between them is the browser's doing, not the test's.
  return page.evaluate((signs) => {
    const press = (key: string) => (document.activeElement ?? document.body).dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true }));
    for (const key of signs) press(key);
    return press('Enter');
  }, code);
}

async function keyIn(serials: string): Promise<void> {
  await page.getByRole('button', { name: 'Job details' }).click();
  await fill('Order', '4711');
  await fill('Customer, reference', 'Example Farm');
  await fill('Assemblies', serials);
  await fill('Hose', 'two-wire DN12');
  await fill('Hose lot', 'L-33');
  await fill('End fittings', 'DKO 15L ≤ 315 bar');
  await fill('Medium', 'water');
  await fill('Operator', 'J. Doe');
  await fill('Responsible', 'M. Roe');
  await page.getByRole('button', { name: 'Save job' }).click();
}

async function download(name: string): Promise<string> {
  const [saved] = await Promise.all([page.waitForEvent('download'), page.getByRole('link', { name, exact: true }).click()]);
  const path = join(folder, saved.suggestedFilename());
  await saved.saveAs(path);
  return path;
}

describe('an operator at the page', () => {
  it('axe-core finds nothing on the sheet before and after a run, light and dark', async () => {
    const source = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
    const faults = async (): Promise<unknown> => {
      // By the protocol of the browser, past the page's own policy, which rightly refuses foreign scripts.
      await page.evaluate(source);
      return page.evaluate('axe.run().then(({ violations }) => violations.map(({ id, nodes }) => [id, nodes.map(({ target }) => target.join(" "))]))');
    };
    await keyIn('A17-001..002');
    await until('the job', async () => (await text('job-words')).includes('A17-001'));
    await page.getByRole('button', { name: 'Job details' }).click();
    await expect.poll(() => faults()).toEqual([]);
    await page.getByRole('button', { name: 'Close' }).click();
    bench.goodRun();
    await until('the run', async () => (await text('after-words')) === 'Run 1: what was seen?');
    await page.getByRole('button', { name: 'Say what was seen' }).click();
    await page.getByText('Leakage seen', { exact: true }).click();
    for (const colorScheme of ['light', 'dark'] as const) {
      await page.emulateMedia({ colorScheme });
      await expect.poll(() => faults()).toEqual([]);
    }
  });

  it('the paper is provisional until somebody says what was seen, and the list of runs says it too', async () => {
    await keyIn('A17-001..003');
    await until('the job', async () => (await text('job-words')) === 'Next run: order 4711 · Example Farm · 3 assemblies, A17-001 to A17-003 · J. Doe');
    bench.goodRun();
    await until('the question', async () => (await text('after-words')) === 'Run 1: what was seen?');
    await until('room for the next job', async () => (await text('job-words')) === 'Next run: no job details yet');
    await page.getByRole('button', { name: 'Say what was seen' }).click();
    await until('the results', async () => (await page.locator('.assemblies li').count()) === 3);
    await expect.poll(() => page.locator('.lacking').textContent()).toBe('Provisional, incomplete: visual finding.');
    const provisional = pdfText(readFileSync(await download('Save certificate')));
    expect(provisional).toContain('PROVISIONAL');
    expect(provisional).toContain('incomplete: visual finding');
    await page.getByText('Leakage seen', { exact: true }).click();
    await page.getByLabel('Where on A17-002').fill('crimp, end B');
    await page.getByRole('button', { name: 'Save what was seen' }).click();
    await until('no pass any more', async () => (await text('verdict-word')) === 'Fail');
    await expect.poll(() => text('verdict-lines')).toContain('Seen by the operator: leakage seen at A17-002 (crimp, end B).');
    await expect.poll(() => page.locator('#runs li').first().textContent()).toContain('Fail');
    expect(complaints).toEqual([]);
  });

  it('a scan with no field focused goes where its like was, is asked for where that cannot be told, and presses no button', async () => {
    await keyIn('A17-001');
    await until('the job', async () => (await text('job-words')).includes('A17-001'));
    bench.goodRun();
    await until('the run', async () => (await text('after-words')) === 'Run 1: what was seen?');
    await page.locator('#job-open').focus();
    const pressed = await scan('A17-009');
    expect(pressed).toBe(false);
    await until('told as an assembly', async () => (await text('scan')) === 'Scanned A17-009: Assembly');
    await page.locator('#chart').focus();
    await scan('A17-010');
    await expect.poll(() => page.getByLabel('Assemblies', { exact: true }).inputValue()).toBe('A17-009, A17-010');
    await scan('XK 4 / 77');
    await until('the question', async () => (await text('scan')).startsWith('Scanned XK 4 / 77. What is it?'));
    await page.locator('#scan').getByRole('button', { name: 'Hose lot' }).click();
    await expect.poll(() => page.getByLabel('Hose lot', { exact: true }).inputValue()).toBe('XK 4 / 77');
    expect(complaints).toEqual([]);
  });

  it('what is keyed in while its run ends stays with that run; a second time it needs a reason', async () => {
    bench.ramp(0, 560, 10);
    await until('under pressure', async () => (await text('job-words')) === 'This run: no job details yet');
    await page.getByRole('button', { name: 'Job details' }).click();
    await fill('Order', '4711');
    await fill('Operator', 'J. Doe');
    const other = await open();
    await other.getByRole('button', { name: 'Job details' }).click();
    await other.getByLabel('Operator', { exact: true }).fill('R. Roe');
    bench.ramp(560, 0, 2);
    bench.ramp(0, 0, 8);
    await until('the end', async () => (await text('after-words')) === 'Run 1: what was seen?');
    await page.getByRole('button', { name: 'Save job' }).click();
    await page.getByRole('heading', { name: 'After run 1' }).waitFor();
    await expect.poll(() => text('job-words')).toBe('Next run: no job details yet');
    await expect.poll(() => page.locator('.papers').textContent()).toContain('Order 4711 (PDF)');
    await other.getByRole('button', { name: 'Save job' }).click();
    await other.getByText('Run 1 is over: say why its job is changed.').waitFor();
    await expect.poll(() => other.getByLabel('Operator', { exact: true }).inputValue()).toBe('R. Roe');
    await other.getByLabel('Why is it changed?', { exact: true }).fill('another operator');
    await other.getByRole('button', { name: 'Save job' }).click();
    await other.getByRole('heading', { name: 'After run 1' }).waitFor();
    await other.close();
  });

  it('tells what is wrong with a job in a sentence, and two tablets see the same job', async () => {
    const other = await open();
    await keyIn('A17-009..001');
    await until('the sentence', async () => (await page.locator('.sheet .problem').textContent()) === "assemblies: 'A17-009..001' runs backward; the second number should be the larger one");
    await expect.poll(() => text('job-words')).toBe('Next run: no job details yet');
    await fill('Assemblies', 'A17-001..002');
    await page.getByLabel('Assemblies', { exact: true }).press('Enter');
    await expect.poll(() => page.getByLabel('Assemblies', { exact: true }).inputValue()).toBe('A17-001..002, ');
    await page.getByLabel('Assemblies', { exact: true }).press('Enter');
    await expect.poll(() => page.getByLabel('Hose', { exact: true }).evaluate((field) => field === document.activeElement)).toBe(true);
    await page.getByRole('button', { name: 'Save job' }).click();
    await until('the other tablet', async () => ((await other.locator('#job-words').textContent()) ?? '').includes('A17-001, A17-002'));
    await other.close();
  });

  it('Escape puts the sheet away, the next run docks it, and neither takes what was entered', async () => {
    bench.ramp(0, 560, 10);
    bench.ramp(560, 0, 2);
    bench.ramp(0, 0, 8);
    await page.getByRole('button', { name: 'Say what was seen' }).click();
    const sheet = page.getByRole('heading', { name: 'After run 1' });
    await sheet.waitFor();
    await page.keyboard.press('Escape');
    await expect.poll(() => sheet.count()).toBe(0);
    await page.getByRole('button', { name: 'Say what was seen' }).click();
    await sheet.waitFor();
    bench.ramp(0, 560, 10);
    await until('docked', async () => (await sheet.count()) === 0 && (await text('after-words')) === 'Run 1: what was seen?');
    await page.getByRole('button', { name: 'Say what was seen' }).click();
    await page.getByText('Leakage seen', { exact: true }).click();
    await page.keyboard.press('Escape');
    await expect.poll(() => page.getByRole('button', { name: 'Close' }).evaluate((button) => button === document.activeElement)).toBe(true);
    await expect.poll(() => sheet.count()).toBe(1);
  });

  it('a job that cannot be sent says so, and is sent once there is a connection', async () => {
    await page.route('**/job', (route) => (route.request().method() === 'PUT' ? route.abort() : route.continue()));
    await keyIn('A17-001');
    await until('said', async () => ((await page.locator('.sheet .problem').textContent()) ?? '').startsWith('Not saved yet: no connection.'));
    await page.unroute('**/job');
    await until('sent', async () => (await text('job-words')).startsWith('Next run: order 4711'));
    await expect.poll(() => page.locator('#sheet').isHidden()).toBe(true);
  });
});

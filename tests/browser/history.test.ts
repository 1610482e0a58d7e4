import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { documentMaker } from '../../src/certificate/document-maker.js';
import { JobDesk } from '../../src/daemon/job-desk.js';
import { storeHistory } from '../../src/history/store-history.js';
import { openStore, type Store } from '../../src/records/store.js';
import { historyRoutes } from '../../src/server/history-routes.js';
import { HttpServer } from '../../src/server/http-server.js';
import { operatorRoutes } from '../../src/server/operator-routes.js';
import { shop } from '../certificate/tested-bench.js';
import { bench, hose, recordSeason, season } from '../history/season.js';
import { ScriptedFeed } from '../server/scripted-feed.js';
import { until } from '../server/until.js';
import { buildPages, sharedBrowser } from './page-server.js';

const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-history-'));
const path = join(folder, 'records.sqlite');
const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
let store: Store;
let browser: Browser;
let pages: Awaited<ReturnType<typeof buildPages>>;
let server: HttpServer;
let page: Page;
let complaints: string[];
const history = storeHistory({ store: path, software: 'test' });

beforeAll(async () => {
  store = openStore(path, { software: 'test' }).store;
  recordSeason(store, [
    ...season(45),
    { verdict: 'fail', leak: 7.5, job: { order: 'B-1', hose, assemblies: ['K-1', 'K-2'] } },
    { verdict: 'inconclusive', leak: null, job: { order: 'B-1', hose, assemblies: ['K-1'], retestOf: 46 } },
    { hold: 600, spikeAt: 300, job: { order: 'B-2', customer: '<b>Example</b> & Söhne', hose, assemblies: ['K-1'], retestOf: 46 }, seen: 'leakage seen' },
  ]);
  store.compact();
  const feed = new ScriptedFeed(bench);
  const desk = new JobDesk(
    { name: bench, records: store, openRun: null, running: false, jobChanged: () => undefined, runsChanged: () => undefined },
    documentMaker({ store: path, software: 'test', shop }),
  );
  pages = await buildPages();
  server = await HttpServer.start({
    benches: [feed], pages: pages.folder,
    routes: (app) => {
      operatorRoutes(app, [desk]);
      historyRoutes(app, [{ bench, history }]);
    },
  });
  browser = await sharedBrowser();
});
afterAll(async () => {
  await server.close();
  await history.close();
  store.close();
  rmSync(folder, { recursive: true, force: true });
});
beforeEach(async () => {
  page = await browser.newPage({ viewport: { width: 1280, height: 900 }, locale: 'en-GB' });
  complaints = [];
  page.on('pageerror', (error) => complaints.push(String(error)));
  page.on('console', (line) => {
    if (line.type() === 'error' || line.type() === 'warning') complaints.push(line.text());
  });
});
afterEach(async () => {
  await page.close();
});

const open = (query = '') => page.goto(`${server.address}/history/${query}`);
const shows = (text: string | RegExp) => page.getByText(text).first().waitFor();
const chart = async (name: string): Promise<string> => (await page.locator('.chart').getAttribute(`data-${name}`)) ?? '';
const rows = () => page.locator('.runs-table tbody tr').count();
const query = () => new URL(page.url()).searchParams;

describe('the runs page in a real browser', () => {
  it('finds runs by what was said of them, and the address leads back to what was found', async () => {
    await open();
    await shows('48 runs found, of 48 on record.');
    await page.getByLabel('Order', { exact: true }).fill('B-');
    await page.getByRole('combobox', { name: 'Result', exact: true }).selectOption('fail');
    await page.getByRole('button', { name: 'Search' }).click();
    await shows('2 runs found, of 48 on record.');
    await expect.poll(() => rows()).toBe(2);
    await expect.poll(() => page.locator('.runs-table').textContent()).toContain('leakage was seen');
    await expect.poll(() => page.locator('.runs-table').textContent()).toContain('<b>Example</b> & Söhne');
    const found = page.url();
    await page.getByRole('link', { name: 'Run 46', exact: true }).click();
    await shows('loses 7.50 bar/min');
    expect(query().get('run')).toBe('46');
    await page.goBack();
    await until('the same search', async () => (await rows()) === 2);
    await open();
    await page.goto(found);
    await until('the bookmark', async () => (await rows()) === 2 && (await page.getByLabel('Order', { exact: true }).inputValue()) === 'B-');
    const [saved] = await Promise.all([page.waitForEvent('download'), page.getByRole('link', { name: 'Save as CSV' }).click()]);
    const lines = readFileSync(await saved.path(), 'utf8').trim().split('\r\n');
    expect(lines.map((line) => line.split(',')[0])).toEqual(['run', '48', '46']);
    await page.getByLabel('Words').fill('nothing of the kind');
    await page.getByRole('button', { name: 'Search' }).click();
    await shows(/^No run fits; 48 are on record/);
    expect(complaints).toEqual([]);
  });

  it('says how far a slow search has come', async () => {
    let answers = 0;
    await page.route(/history\/runs\?/, async (route) => {
      answers++;
      if (answers === 1) return route.fulfill({ json: { runs: [], next: 49, looked: 8, onRecord: 48 } });
      await until('the progress', async () => (await page.locator('.progress').textContent()) === 'Searching: no runs so far, 8 of 48 looked through.');
      return route.continue();
    });
    await open('?result=fail');
    await shows(/found, of 48 on record|The newest/);
    expect(answers).toBe(2);
  });

  it('opens a run with its trace, shows a spike of one reading at any zoom, and its documents', async () => {
    await open('?run=48');
    await until('the trace', async () => Number(await chart('points')) > 100);
    await expect.poll(async () => Number(await chart('highest-bar'))).toBe(597.3);
    await expect.poll(() => page.locator('.run-head').textContent()).toContain('Sealed as pass; what was said since makes it fail.');
    await expect.poll(() => page.locator('.measured').textContent()).toContain('556.0 bar');
    await page.getByRole('button', { name: /Show spike/ }).click();
    await until('the spike from near', async () => (await chart('window')) === 'fixed' && Number(await chart('highest-bar')) === 597.3 && Number(await chart('points')) < 150);
    await until('the place in the address', () => Promise.resolve(query().get('zoom') !== null));
    await page.locator('.chart').focus();
    await page.keyboard.press('ArrowRight');
    await until('the reading line', async () => /\d\d:\d\d:\d\d\.\d\d, \d{3}\.\d bar/.test((await page.locator('.readout').textContent()) ?? ''));
    await page.keyboard.press('Home');
    await until('all of it', async () => (await chart('window')) === 'run' && query().get('zoom') === null);
    await page.getByRole('radio', { name: 'MPa' }).check();
    await until('another unit', async () => ((await page.locator('.measured').textContent()) ?? '').includes('55.60 MPa'));
    const address = await page.getByRole('link', { name: 'Save report' }).getAttribute('href');
    const pdf = await page.request.get(`${server.address}${address ?? ''}`);
    expect([pdf.status(), pdf.headers()['content-type']]).toEqual([200, 'application/pdf']);
    expect(complaints).toEqual([]);
  });

  it('lays two runs over each other at the start of the hold or at the first rise, with the differences in a table', async () => {
    await open('?serial=K-1');
    await until('found', async () => (await rows()) === 3);
    await page.getByLabel('Compare run 48').check();
    await page.getByLabel('Compare run 46').check();
    await page.getByRole('link', { name: 'Compare runs 46 and 48' }).click();
    await until('both lines', async () => Number(await chart('earlier-lines')) === 1 && Number(await chart('points')) > 100);
    const figures = page.locator('table.figures');
    const steady = await figures.locator('tr', { hasText: 'Steady loss' }).locator('td').allTextContents();
    expect(steady).toEqual(['0.80 bar/min', '7.50 bar/min', '+6.70 bar/min']);
    await expect.poll(() => figures.locator('tr', { hasText: 'Length of hold' }).locator('td').allTextContents()).toEqual(['10 min', '10 s', '−9 min 50 s']);
    await page.getByLabel('Laid over each other at').selectOption('rise');
    await until('the other place', async () => query().get('align') === 'rise' && ((await page.locator('.key').first().textContent()) ?? '').includes('first rise'));
    await until('drawn again', async () => Number(await chart('points')) > 100);
    await page.locator('.chart').focus();
    await page.keyboard.press('ArrowLeft');
    await until('both readings', async () => /run 46 has no reading there|run 46 \d+\.\d bar, difference/.test((await page.locator('.readout').textContent()) ?? ''));
    expect([query().get('run'), query().get('with')]).toEqual(['48', '46']);
    expect(complaints).toEqual([]);
  });

  it('another run that is not there leaves this one on the page, with what is wrong beside the field', async () => {
    await open('?run=48');
    await page.getByLabel('Lay another run under it: its number').fill('4711');
    await page.getByRole('button', { name: 'Compare', exact: true }).click();
    await until('what is wrong', async () => ((await page.locator('.beside .problem').textContent()) ?? '').startsWith('Run 4711 cannot be laid under it'));
    await until('the trace', async () => Number(await chart('points')) > 100);
    await page.getByLabel('Lay another run under it: its number').fill('48');
    await page.getByRole('button', { name: 'Compare', exact: true }).click();
    await expect.poll(() => page.locator('.beside .problem').textContent()).toContain('this very run');
  });

  it('says what is wrong with a run that is not there', async () => {
    await open('?run=4711');
    await shows('run 4711: there is no such run');
    await page.getByRole('link', { name: 'Runs found' }).click();
    await shows('48 runs found, of 48 on record.');
  });

  it('counts pass rates, retests apart, and shows the drift of the leak rate with the runs that stand out', async () => {
    await open('?view=statistics');
    await page.getByRole('link', { name: /^Charts of two-wire DN12 proof/ }).click();
    await shows(/The leak rate is drifting up/);
    const rates = await page.locator('.rates tbody tr').allTextContents();
    expect(rates[0]).toBe('First tests97.8 % (88.7 % to 99.62 %)4510 inconclusive');
    expect(rates[1]).toBe('Retests0 % (0 % to 79.3 %)011 inconclusive');
    expect(rates[2]).toContain('2 to be retested alone');
    await expect.poll(() => page.locator('.plot .test').count()).toBe(47);
    await expect.poll(() => page.locator('.plot .ring').count()).toBeGreaterThan(3);
    await page.getByText(/^Runs that stand out/).click();
    await page.getByRole('combobox', { name: 'Figure', exact: true }).selectOption('drop');
    await until('another figure', async () => query().get('measure') === 'drop' && (await page.getByText('Loss in the hold, run by run').count()) === 1);
    await page.locator('.plot .test').last().click();
    await until('the run', () => Promise.resolve(query().get('run') === '48'));
    expect(complaints).toEqual([]);
  });

  it.each([['search', '?'], ['run', '?run=48&with=46'], ['statistics', '?view=statistics'], ['charts', `?view=statistics&of=two-wire+DN12+proof&hoses=two-wire+DN12`]])(
    'has no fault that axe finds and nothing that runs out of the page: %s',
    async (_name, address) => {
      for (const [width, height] of [[390, 844], [820, 1180], [1280, 900]] as const) {
        await page.setViewportSize({ width, height });
        await open(address);
        await page.locator('table, .figures').first().waitFor();
        if (address.includes('run')) await until('the trace', async () => Number(await chart('points')) > 10);
        expect([width, await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth)]).toEqual([width, 0]);
      }
      for (const colorScheme of ['light', 'dark'] as const) {
        await page.emulateMedia({ colorScheme });
        // Run as the browser's own tool would: the security policy of the page lets no other script in.
        const found = await page.evaluate(`${axe}; axe.run().then(({ violations }) => violations.map(({ id, nodes }) => id + ': ' + nodes.map(({ target }) => target.join(' ')).join(', ')))`);
        expect(found).toEqual([]);
      }
    },
  );
});

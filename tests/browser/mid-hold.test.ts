import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { documentMaker } from '../../src/certificate/document-maker.js';
import { deskOf } from '../../src/daemon/desk-of.js';
import { HttpServer } from '../../src/server/http-server.js';
import { operatorRoutes } from '../../src/server/operator-routes.js';
import { shop } from '../certificate/tested-bench.js';
import { HandBench, judgingBy } from '../daemon/hand-bench.js';
import { until } from '../server/until.js';
import { buildPages, sharedBrowser } from './page-server.js';

let browser: Browser;
let pages: Awaited<ReturnType<typeof buildPages>>;
let bench: HandBench;
let server: HttpServer;
let page: Page;

beforeAll(async () => {
  pages = await buildPages();
  browser = await sharedBrowser();
});
beforeEach(async () => {
  bench = new HandBench(judgingBy({ holdTime: '60 s', maximumDrop: '3 %' }));
  await serve();
  bench.daemon.start();
  bench.ramp(0, 0, 2);
  page = await open();
});
afterEach(async () => {
  await page.close();
  await server.close();
  bench.clear();
});

async function serve(port = 0): Promise<void> {
  const desk = deskOf(bench.daemon, documentMaker({ store: join(bench.folder, 'records.sqlite'), software: 'dwellkeeper test', shop }), shop.zone, () => bench.at.wall);
  server = await HttpServer.start({ benches: [bench.daemon.feed], pages: pages.folder, port, routes: (app) => operatorRoutes(app, [desk]) });
}

async function open(): Promise<Page> {
  const opened = await browser.newPage({ viewport: { width: 1280, height: 800 } });
  await opened.goto(`${server.address}/live/`);
  await until('live', async () => (await opened.locator('body').getAttribute('data-stale')) === 'false');
  return opened;
}

const textOn = async (shown: Page, id: string): Promise<string> => (await shown.locator(`#${id}`).textContent()) ?? '';
const text = (id: string): Promise<string> => textOn(page, id);
const chart = async (name: string): Promise<string> => (await page.locator('#chart').getAttribute(`data-${name}`)) ?? '';

/** Up to 20 s or so into the hold. */
async function intoTheHold(): Promise<void> {
  bench.ramp(0, 561, 10);
  bench.ramp(561, 552, 2);
  bench.ramp(552, 552, 25);
  await until('holding', async () => (await text('phase')) === 'Holding');
}

async function ventAndRead(): Promise<string> {
  bench.ramp(552, 0, 1);
  bench.ramp(0, 0, 8);
  await until('a verdict', async () => ['Pass', 'Fail', 'Inconclusive'].includes(await text('verdict-word')));
  return text('verdict-word');
}

describe('in the middle of a hold', () => {
  it('the page is loaded again: peak, countdown and the whole trace are there at once, and the run goes on to its pass', async () => {
    await intoTheHold();
    const [left, peak] = [await text('hold-left'), await text('peak')];
    expect(peak).toMatch(/^561\.\d/);
    await page.reload();
    await until('the same moment', async () => (await text('hold-left')) === left && (await text('peak')) === peak);
    await expect.poll(() => text('verdict-word')).toBe('Pending');
    await until('the rise before the reload', async () => Number(await chart('lowest-bar')) < 1 && Number(await chart('highest-bar')) > 560);
    await expect.poll(() => chart('gaps')).toBe('');
    bench.ramp(552, 552, 60);
    expect(await ventAndRead()).toBe('Pass');
    // The peak of this run does not stay for the next one.
    bench.ramp(0, 100, 2);
    await until('a new peak', async () => /^(9\d|100)\.\d/.test(await text('peak')));
  });

  it('two tablets show the same, and neither loses what the other one did', async () => {
    const other = await open();
    await intoTheHold();
    await until('the same on both', async () => (await textOn(other, 'hold-left')) === (await text('hold-left')) && (await textOn(other, 'phase')) === 'Holding');
    await other.close();
    bench.ramp(552, 552, 60);
    expect(await ventAndRead()).toBe('Pass');
  });

  it('the server is started again: the page comes back by itself, and the time that nobody watched is never taken for a hold', async () => {
    await intoTheHold();
    const port = Number(new URL(server.address).port);
    bench.daemon.stop();
    await server.close();
    await until('said so', async () => (await page.locator('body').getAttribute('data-stale')) === 'true');
    await expect.poll(() => text('verdict-word')).toBe('Not known now');
    bench.wait(20);
    bench.restart();
    await serve(port);
    bench.ramp(552, 552, 5);
    await until('live again', async () => (await page.locator('body').getAttribute('data-stale')) === 'false');
    bench.ramp(552, 552, 30);
    const verdict = await ventAndRead();
    expect(verdict).toBe('Inconclusive');
    await expect.poll(() => text('verdict-lines')).toMatch(/^No data for 20\.\d s/);
  });

  it('the tab slept for ten minutes: it catches up with all of it and says what is now', async () => {
    const session = await page.context().newCDPSession(page);
    await intoTheHold();
    await session.send('Page.setWebLifecycleState', { state: 'frozen' });
    bench.ramp(552, 551, 600);
    await session.send('Page.setWebLifecycleState', { state: 'active' });
    await until('awake', async () => (await page.locator('body').getAttribute('data-stale')) === 'false' && (await text('hold-left')) === '0:00');
    await until('no hole', async () => (await chart('gaps')) === '' && (await chart('lines')) === '1' && Number(await chart('lowest-bar')) < 1);
    expect(await ventAndRead()).toBe('Pass');
  });
});

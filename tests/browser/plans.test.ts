import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { documentMaker } from '../../src/certificate/document-maker.js';
import { deskOf } from '../../src/daemon/desk-of.js';
import { HttpServer } from '../../src/server/http-server.js';
import { libraryRoutes } from '../../src/server/library-routes.js';
import { operatorRoutes } from '../../src/server/operator-routes.js';
import { shop as shopSection } from '../certificate/tested-bench.js';
import { planText, ShopBench } from '../daemon/shop-bench.js';
import { until } from '../server/until.js';
import { buildPages, sharedBrowser } from './page-server.js';

let browser: Browser;
let pages: Awaited<ReturnType<typeof buildPages>>;
let shop: ShopBench;
let server: HttpServer;
let page: Page;
let complaints: string[];

beforeAll(async () => {
  pages = await buildPages();
  browser = await sharedBrowser();
});
beforeEach(async () => {
  shop = new ShopBench();
  const { hand } = shop;
  const documents = documentMaker({ store: join(hand.folder, 'records.sqlite'), software: 'dwellkeeper test', shop: shopSection });
  const desk = deskOf(hand.daemon, documents, shopSection.zone, () => hand.at.wall, shop.desk.forJobs());
  server = await HttpServer.start({
    benches: [hand.daemon.feed], pages: pages.folder,
    routes: (app) => {
      operatorRoutes(app, [desk]);
      libraryRoutes(app, [shop.desk]);
    },
  });
  shop.start();
  page = await open('/plans/');
});
afterEach(async () => {
  await page.close();
  await server.close();
  shop.clear();
});

async function open(path: string): Promise<Page> {
  const opened = await browser.newPage({ viewport: { width: 1100, height: 800 } });
  complaints = [];
  opened.on('pageerror', (error) => complaints.push(String(error)));
  // What the daemon refuses on purpose is told on the page; the browser notes it in its own way, too.
  opened.on('console', (line) => {
    if ((line.type() === 'error' || line.type() === 'warning') && !line.text().includes('the server responded with a status of 4')) complaints.push(line.text());
  });
  await opened.goto(`${server.address}${path}`);
  return opened;
}

const text = async (selector: string): Promise<string> => (await page.locator(selector).textContent()) ?? '';
const names = () => page.locator('#plans .name').allTextContents();
const press = (name: string | RegExp) => page.getByRole('button', { name, ...(typeof name === 'string' && { exact: true }) }).click();
const fill = (label: string, value: string) => page.getByLabel(label, { exact: true }).fill(value);
async function faults(): Promise<unknown> {
  const source = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
  // By the protocol of the browser, past the page's own policy, which rightly refuses foreign scripts.
  await page.evaluate(source);
  return page.evaluate('axe.run().then(({ violations }) => violations.map(({ id, nodes }) => [id, nodes.map(({ target }) => target.join(" "))]))');
}

describe('the page of the plans', { timeout: 150_000 }, () => {
  it('a plan made from a hose, changed with a reason, chosen: the next run is judged by it', async () => {
    await until('the list', async () => (await names()).includes('short proof'));
    await fill('You are', 'M. Roe');
    await press('New from a hose');
    await fill('Hose, as printed on it', '2SN DN99');
    await press('Make the plan');
    await until('what is wrong with the hose', async () => (await text('#hose-hose-wrong')).includes("'DN99' is no size of it"));
    await fill('Hose, as printed on it', 'ISO 1436 2SN DN12');
    await press('Make the plan');
    await until('the plan', async () => (await page.getByLabel('Test pressure', { exact: true }).inputValue()) === '550 bar');
    await expect.poll(() => faults()).toEqual([]);
    await fill('Hold time', '3');
    await until('what is wrong with the hold', async () => (await text('[id="field-holdTime-wrong"]')) === "'3' has no unit; write for example '60 s'");
    await fill('Hold time', '3 s');
    await fill('Name', 'two-wire short');
    await press('Save the new plan');
    await until('the question for a reason', async () => (await text('.said')).startsWith('Give the reason first'));
    await fill('Why is it made?', 'new hose');
    await press('Save the new plan');
    await until('saved', async () => (await text('.said')) === 'Saved as version 1.');

    await fill('Minimum pressure', '540 bar');
    await fill('Why is it changed?', 'the fitting settles more');
    await press('Save as a new version');
    await until('version 2', async () => (await text('.said')) === 'Saved as version 2.');
    await press('What it changed: from version 1 to version 2');
    await until('the difference', async () => (await page.locator('.versions table td').allTextContents()).join(' ') === '544.5 bar 540 bar');
    for (const colorScheme of ['light', 'dark'] as const) {
      await page.emulateMedia({ colorScheme });
      await expect.poll(() => faults()).toEqual([]);
    }
    await press('Use for the next run');
    await until('in force', async () => (await text('#in-force')) === 'runs are judged by two-wire short');
    shop.hand.goodRun();
    expect(shop.judgedBy()).toEqual(['two-wire short 3 s']);
    const content = shop.hand.stored((store) => store.versions.get(store.getRun(1)?.plan ?? '')?.content);
    expect(content).toMatchObject({ minimumPressure: 540 });
    expect(complaints).toEqual([]);
  });

  it('what is not saved is dropped only by somebody who says so, by a click or by going back', async () => {
    await until('the list', async () => (await names()).includes('short proof'));
    await press(/^short proof/);
    await until('the plan', async () => (await page.getByLabel('Hold time', { exact: true }).inputValue()) === '3 s');
    await fill('Ceiling pressure', '590 bar');
    await press('New from a hose');
    await until('the question', async () => (await text('.meanwhile')).includes("'short proof' has changes that are not saved."));
    await press('Stay here and keep the changes');
    await expect.poll(() => page.getByLabel('Ceiling pressure', { exact: true }).inputValue()).toBe('590 bar');
    await page.evaluate(() => (location.hash = ''));
    await until('the question', async () => (await text('.meanwhile')).includes('not saved'));
    await expect.poll(() => page.evaluate(() => location.hash)).toBe('#plan');
    await press('New from a hose');
    await press('Drop the changes and go on');
    await until('gone on', async () => (await text('#sheet-title')) === 'New plan from a hose');
    expect(complaints).toEqual([]);
  });

  it('what somebody else saved meanwhile is shown beside mine, and mine goes on top of it', async () => {
    await until('the list', async () => (await names()).includes('short proof'));
    await fill('You are', 'M. Roe');
    await press(/^short proof/);
    await until('the plan', async () => (await page.getByLabel('Hold time', { exact: true }).inputValue()) === '3 s');
    shop.desk.library.get('plan').file.save({ base: 1, text: planText('short proof', '4 s'), who: 'J. Doe', why: 'a second more' });
    await fill('Ceiling pressure', '590 bar');
    await fill('Why is it changed?', 'weaker coupling');
    await press('Save as a new version');
    await until('the conflict', async () => (await text('.meanwhile')).includes('was changed meanwhile by J. Doe (version 2: a second more)'));
    await expect.poll(() => page.locator('.meanwhile table').first().locator('td').allTextContents()).toEqual(['3 s', '4 s']);
    await press('Save my fields on top');
    await until('saved', async () => (await text('.said')) === 'Saved as version 3.');
    expect(shop.desk.library.get('plan').plan).toMatchObject({ holdTime: 4, ceilingPressure: 590 });
    await press('Go back to this: version 1');
    await until('back', async () => (await text('.said')) === 'Saved as version 4.');
    expect(shop.desk.library.get('plan').plan).toMatchObject({ holdTime: 3, ceilingPressure: 600 });
    expect(complaints).toEqual([]);
  });

  it('finds by hose, size and pressure from the keyboard, fits a phone, and names a bad file', async () => {
    shop.write('plans/torn.yaml', planText('torn').replace('550 bar', '550'));
    shop.desk.library.create(planText('spiral 4SP DN12').replace('550 bar', '830 bar').replace('530 bar', '800 bar').replace('600 bar', '900 bar'), 'M. Roe', 'new hose');
    shop.desk.poll();
    shop.desk.poll();
    await page.setViewportSize({ width: 390, height: 780 });
    await page.reload();
    await until('both', async () => (await names()).length === 2);
    await expect.poll(() => page.evaluate(() => document.documentElement.scrollWidth <= innerWidth)).toBe(true);
    await expect.poll(() => text('#faults')).toContain("torn.yaml: line 2, testPressure: '550' has no unit");
    await page.locator('#find').focus();
    await page.keyboard.type('12000 psi 4sp');
    await until('the one', async () => (await names()).join() === 'spiral 4SP DN12');
    for (let i = 0; i < 4; i++) await page.keyboard.press('Tab');
    await page.keyboard.press('Enter');
    await until('open', async () => (await text('#sheet-title')) === 'spiral 4SP DN12');
    await page.getByText('psi', { exact: true }).click();
    await until('in psi', async () => (await page.locator('.field:has(#field-testPressure) .also').textContent()) === '= 12038 psi');
    await expect.poll(() => page.evaluate(() => document.documentElement.scrollWidth <= innerWidth)).toBe(true);
    expect(complaints).toEqual([]);
  });

  it('an operator picks the plan with the job, in mid-run for the next one; the same job again keeps its plan', async () => {
    shop.desk.library.create(planText('longer proof', '4 s'), 'M. Roe', 'a customer asks for it');
    await page.close();
    page = await open('/live/');
    await until('live', async () => (await page.locator('body').getAttribute('data-stale')) === 'false');
    await press('Job details');
    await until('the plans', async () => (await text('.picker .stands')).startsWith('short proof: '));
    await expect.poll(() => faults()).toEqual([]);
    await fill('Order', '4711');
    await fill('Operator', 'J. Doe');
    await fill('Find another plan', 'longer');
    await until('the one', async () => (await page.locator('.offered button').count()) === 1);
    await page.getByLabel('Find another plan', { exact: true }).press('Enter');
    await until('picked', async () => (await text('.picker .stands')) === 'longer proof: 550.0 bar, held 4 s, with this job');
    await press('Save job');
    await until('the job', async () => (await text('#job-words')).includes('4711'));
    await expect.poll(() => text('#plan')).toBe('longer proof');
    shop.hand.goodRun();
    await until('the run', async () => (await text('#after-words')) === 'Run 1: what was seen?');
    await press('Say what was seen');
    await until('its version', async () => (await text('.judged-by')) === 'Plan: longer proof, version 1, by M. Roe: a customer asks for it; thresholds: quick, version 1, by file on disk: found in the folder');
    await press('Close');

    shop.hand.ramp(0, 560, 10);
    await until('under pressure', async () => (await text('#job-words')).startsWith('This run'));
    await press('Job details');
    await page.locator('.offered').getByRole('button', { name: /^short proof/ }).click();
    await press('Save job');
    await until('told', async () => (await text('#notices')).includes("'short proof' is chosen for the next run; this run keeps 'longer proof'"));
    await expect.poll(() => text('#plan')).toBe('longer proof');
    shop.hand.ramp(560, 552, 2);
    shop.hand.ramp(552, 552, 10);
    shop.hand.ramp(552, 0, 1);
    shop.hand.ramp(0, 0, 8);
    await until('the next plan', async () => (await text('#plan')) === 'short proof');
    await until('the end of the run', async () => (await text('#job-words')) === 'Next run: no job details yet');
    await press('Same job again');
    await until('its plan again', async () => (await text('#plan')) === 'longer proof');
    expect(shop.judgedBy()).toEqual(['longer proof 4 s', 'longer proof 4 s']);
    expect(complaints).toEqual([]);
  });
});

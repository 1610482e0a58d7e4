import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import { parseThresholds, type Thresholds } from '../../src/core/thresholds.js';
import { canonicalJson } from '../../src/records/canonical-json.js';
import { descriptionRoutes } from '../../src/server/description-routes.js';
import { HttpServer } from '../../src/server/http-server.js';
import { compareRoutes } from '../../src/server/compare-routes.js';
import { labelRoutes } from '../../src/server/label-routes.js';
import { libraryRoutes } from '../../src/server/library-routes.js';
import { tuningRoutes } from '../../src/server/tuning-routes.js';
import { runScenario } from '../../simulators/run-scenario.js';
import { csvOf } from '../../simulators/trace-csv.js';
import { ShopBench } from '../daemon/shop-bench.js';
import { until } from '../server/until.js';
import { buildPages, openBrowser } from './page-server.js';

let browser: Browser;
let pages: Awaited<ReturnType<typeof buildPages>>;
let shop: ShopBench;
let server: HttpServer;
let page: Page;
const complaints: string[] = [];
const deadline = 60_000;

/** A hold in which the pressure creeps up a little once, as a warming bench does: less than half of one pump stroke. */
function creepingRun(): void {
  const { hand } = shop;
  hand.ramp(0, 0, 2);
  hand.ramp(0, 560, 10);
  hand.ramp(560, 552, 2);
  hand.ramp(552, 552, 3);
  hand.ramp(552, 554.5, 0.2);
  hand.ramp(554.5, 554.5, 7);
  hand.ramp(554.5, 0, 1);
  hand.ramp(0, 0, 8);
}
const onRecord = (): string[] => shop.hand.stored((store) => store.listRuns({ limit: 50 }).map(({ number, verdict }) => `${number} ${verdict ?? 'open'}`));

beforeAll(async () => {
  pages = await buildPages();
  browser = await openBrowser();
  shop = new ShopBench();
  shop.start();
  for (let i = 0; i < 12; i++) {
    if (i === 3 || i === 8) creepingRun();
    else shop.hand.goodRun(6);
  }
  const { daemon } = shop.hand;
  server = await HttpServer.start({
    benches: [daemon.feed], pages: pages.folder,
    routes: (app) => {
      descriptionRoutes(app, 'test');
      libraryRoutes(app, [shop.desk]);
      const records = { bench: daemon.feed.name, get records() { return daemon.records; } };
      tuningRoutes(app, [records]);
      labelRoutes(app, [records]);
      compareRoutes(app, [{ bench: daemon.feed.name, store: shop.path('records.sqlite'), software: 'dwellkeeper test', threads: 0 }]);
    },
  });
  page = await browser.newPage({ viewport: { width: 1440, height: 1000 } });
  page.on('pageerror', (error) => complaints.push(String(error)));
  page.on('console', (line) => {
    if (line.type() === 'error' || line.type() === 'warning') complaints.push(`${line.text()} ${line.location().url}`);
  });
  await page.goto(`${server.address}/tuning/`);
}, 300_000);
afterAll(async () => {
  await browser.close();
  await server.close();
  shop.clear();
  await pages.remove();
});

const text = async (id: string): Promise<string> => (await page.locator(`#${id}`).textContent()) ?? '';
const untilText = (id: string, wanted: string) => until(`${id}: ${wanted}`, async () => (await text(id)) === wanted, deadline);
const untilRead = (id: string) => until(`${id} read`, async () => (await page.locator('#plot').getAttribute('data-read')) === id, deadline);
const field = (label: string) => page.getByLabel(label, { exact: true });
const flips = () => page.locator('#flips tr[data-run]').evaluateAll((rows) => rows.map((row) => `${row.getAttribute('data-run')}: ${row.getAttribute('data-concern')}`));

// Generous: on a machine that is busy with other things a browser draws slowly.
describe('the page for tuning in a real browser', { timeout: 300_000 }, () => {
  it('an engineer moves a threshold until verdicts flip, saves it with a reason, and the next run is judged by it', async () => {
    expect(onRecord().filter((run) => run.endsWith('inconclusive'))).toEqual(['9 inconclusive', '4 inconclusive']);
    await untilRead('run 12');
    await page.getByRole('button', { name: 'Newest ten' }).click();
    await until('ten runs judged', async () => (await flips()).length === 10, deadline);
    expect(new Set((await flips()).map((row) => row.split(': ')[1]))).toEqual(new Set(['none']));
    await untilText('flip-words', '10 as before.');

    await page.locator('#runs').getByRole('button', { name: /^Run 9/ }).click();
    await untilRead('run 9');
    await expect.poll(() => text('before-word')).toBe('Inconclusive');
    await field('Top-up height').fill('0.3');
    await field('Top-up height').press('Enter');
    await expect.poll(() => text('changed')).toBe('1 changed');
    await expect.poll(() => text('after-word')).toBe('Inconclusive');
    await field('Top-up height').fill('0.9');
    await field('Top-up height').press('Enter');
    await untilText('after-word', 'Pass');
    await expect.poll(() => page.locator('#differences tr.differs').first().textContent()).toMatch(/^Top-up differs.*undecided.*met/);
    await until('the flips', async () => (await text('flip-words')) === '2 would pass now, 8 as before.', deadline);
    await expect.poll(async () => (await flips()).slice(0, 2)).toEqual(['run 9: new pass', 'run 4: new pass']);

    await page.getByRole('button', { name: 'Save as a new version' }).click();
    await expect.poll(() => text('save-problem')).toContain('Give the reason');
    await field('Reason').fill('the bench warms up by 2.5 bar, a stroke brings 22');
    await field('You are').fill('M. Roe');
    await page.getByRole('button', { name: 'Save as a new version' }).click();
    await untilText('saved', 'Version 2 is saved. The next run is judged by it; runs on record stay as they are.');
    await expect.poll(() => text('in-force')).toContain('version 2: the bench warms up by 2.5 bar, a stroke brings 22 (M. Roe)');
    await expect.poll(() => text('changed')).toBe('as in force');

    creepingRun();
    await until('the next run', () => onRecord()[0]?.startsWith('13 ') === true && !onRecord()[0]?.endsWith('open'), deadline);
    expect(onRecord().slice(0, 1)).toEqual(['13 pass']);
    expect(onRecord()).toContain('9 inconclusive');
    const judgedBy = shop.hand.stored((store) => store.versions.get(store.getRun(13)?.thresholds ?? '')?.content as Thresholds);
    expect(judgedBy.topUpHeight.kind).toBe('fraction');
    expect(judgedBy.topUpHeight.value).toBeCloseTo(0.009, 12);
  });

  it('the whole library is judged on the bench, and what somebody knows of a run shows where its verdict would be wrong', async () => {
    await page.getByRole('radio', { name: 'Truly leaking' }).check();
    await until('the label', () => shop.hand.stored((store) => store.entriesOf(9).some(({ entry }) => entry.kind === 'label')), deadline);
    await page.getByRole('radio', { name: 'Whole library' }).check();
    await page.getByRole('button', { name: 'Judge all of them' }).click();
    await until('all judged', async () => (await text('flip-words')).startsWith('All 13 runs judged. 2 would pass now'), deadline);
    await expect.poll(async () => (await flips()).slice(0, 2)).toEqual(['run 9: new pass', 'run 4: new pass']);
    await expect.poll(() => page.locator('#flips tr[data-run="run 9"]').textContent()).toContain('verdict would be wrong');

    await page.locator('#sweep summary').click();
    await page.locator('#sweep-key').selectOption('topUpHeight');
    await field('from').fill('0.1 %');
    await field('to').fill('0.9 %');
    await page.getByRole('button', { name: 'Try nine values' }).click();
    await until('the trade-off', async () => (await text('sweep-words')).startsWith('1 truly leaking and 0 truly sound runs.'), deadline);
    const rows = await page.locator('#sweep-table tbody tr').allTextContents();
    expect(rows.length).toBe(10);
    expect(rows[1]).toContain('0 of 1');
    expect(rows[9]).toContain('1 of 1');
    await page.getByRole('button', { name: 'Try 0.2 %' }).click();
    await expect.poll(() => field('Top-up height').inputValue()).toBe('0.2');
    await page.getByRole('button', { name: 'As in force' }).click();
    await page.getByRole('radio', { name: 'Ticked runs' }).check();
  });

  it('a changed plan is tried like thresholds: on the ticked runs, on the library, undone, saved with a reason, and the next run is judged by it', async () => {
    await page.getByRole('radio', { name: 'Plan', exact: true }).check();
    await until('the plan', async () => (await page.locator('#plan-key').inputValue()) === 'plan', deadline);
    await expect.poll(() => text('threshold-spikeWidth-meaning')).toContain('Allowed: ');
    await expect.poll(() => text('field-ceilingPressure-meaning')).toContain('No real pressure may exceed this');
    await until('as judged', async () => (await text('flip-words')) === '10 as before.' || (await text('flip-words')).includes('would'), deadline);
    const before = await text('flip-words');

    await field('Ceiling pressure').fill('540 bar');
    await until('the contradiction', async () => (await text('field-ceilingPressure-wrong')).includes('is not above the test pressure of 550 bar'), deadline);
    await expect.poll(() => page.locator('#save').isDisabled()).toBe(true);
    await field('Ceiling pressure').fill('555 bar');
    await untilText('after-word', 'Fail');
    await until('the flips', async () => /10 would fail now/.test(await text('flip-words')), deadline);
    await expect.poll(() => text('keep-what')).toBe('Ceiling pressure: 600 bar → 555 bar');
    await expect.poll(() => text('changed')).toBe('1 changed');

    await page.getByRole('radio', { name: 'Whole library' }).check();
    await page.getByRole('button', { name: 'Judge all of them' }).click();
    await until('all judged', async () => (await text('flip-words')).startsWith('All 13 runs judged. 13 would fail now'), deadline);
    await page.getByRole('radio', { name: 'Ticked runs' }).check();

    await page.getByRole('button', { name: 'Undo' }).click();
    await expect.poll(() => field('Ceiling pressure').inputValue()).toBe('600 bar');
    await until('as before', async () => (await text('flip-words')) === before, deadline);
    await page.getByRole('button', { name: 'Redo' }).click();
    // On the plot itself, by keys: a step is about a pixel.
    const handle = page.locator('[data-handle="plan.ceilingPressure"]');
    await handle.focus();
    await page.keyboard.press('ArrowDown');
    await expect.poll(() => handle.getAttribute('aria-valuetext')).toBe('553.9 bar');
    await expect.poll(() => field('Ceiling pressure').inputValue()).toBe('553.9 bar');

    await field('Reason').fill('the fitting bears no more');
    await page.getByRole('button', { name: 'Save as a new version' }).click();
    await untilText('saved', 'Version 2 of the plan is saved. The next run is judged by it; runs on record stay as they are.');
    await expect.poll(() => text('changed')).toBe('as in force');
    shop.hand.goodRun(6);
    await until('the next run', () => onRecord()[0] === '14 fail', deadline);
    await expect.poll(() => page.locator('#keep-more').getAttribute('href')).toBe('../plans/?bench=north%20bench#plan');
    await page.getByRole('button', { name: 'As in force' }).click();
    await page.getByRole('radio', { name: 'Thresholds', exact: true }).check();
  });

  it('what each value would cost can be stopped: the bench is told so at once', async () => {
    // Held back on its way, so that it cannot be over before it is stopped.
    await page.route('**/sweep', () => undefined);
    const gone = page.waitForEvent('requestfailed', (request) => request.url().endsWith('/sweep'));
    await page.getByRole('button', { name: 'Try nine values' }).click();
    await page.locator('#sweep-stop').click();
    await gone;
    await untilText('sweep-words', 'Stopped; what is shown below is from before.');
    await expect.poll(() => page.locator('#sweep-stop').isHidden()).toBe(true);
    await expect.poll(() => page.locator('#sweep-table tbody tr').count()).toBe(10);
    await page.unroute('**/sweep');
  });

  it('a wrong number is refused in a sentence, and undo and redo go step by step', async () => {
    await field('Spike width').fill('20000');
    await field('Spike width').press('Enter');
    await expect.poll(() => text('threshold-spikeWidth-problem')).toContain('should be 0.001 s to 10 s');
    await expect.poll(() => field('Spike width').getAttribute('aria-invalid')).toBe('true');
    await expect.poll(() => text('changed')).toBe('as in force');
    await field('Spike width').fill('300');
    await field('Spike width').press('Enter');
    await expect.poll(() => page.locator('#save').isDisabled()).toBe(false);
    // What stands in the fields is not what would be saved.
    await field('Spike width').fill('20000');
    await field('Spike width').press('Enter');
    await expect.poll(() => page.locator('#save').isDisabled()).toBe(true);
    await field('Spike width').fill('300');
    await field('Spike width').press('Enter');
    await expect.poll(() => page.locator('#save').isDisabled()).toBe(false);
    await field('Spike height, slider').focus();
    await page.keyboard.press('ArrowRight');
    await expect.poll(() => text('changed')).toBe('2 changed');
    await page.keyboard.press('Control+z');
    await expect.poll(() => text('changed')).toBe('1 changed');
    await page.getByRole('button', { name: 'Undo' }).click();
    await expect.poll(() => field('Spike width').inputValue()).toBe('250');
    await page.getByRole('button', { name: 'Redo' }).click();
    await expect.poll(() => field('Spike width').inputValue()).toBe('300');
    await page.getByRole('button', { name: 'As in force' }).click();
    await expect.poll(() => text('changed')).toBe('as in force');
  });

  it('thresholds are moved on the plot itself, with the pointer and with keys', async () => {
    const handle = page.locator('[data-handle="attemptPressure"]');
    await handle.waitFor();
    await page.evaluate(() => scrollTo(0, 0));
    const box = await handle.boundingBox();
    if (box === null) throw new Error('no handle');
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.mouse.move(x, y - 30, { steps: 3 });
    await page.mouse.up();
    const dragged = Number(await field('A test from').inputValue());
    expect(dragged).toBeGreaterThan(27);
    expect(dragged).toBeLessThan(60);
    await handle.focus();
    await page.keyboard.press('ArrowUp');
    const stepped = Number(await field('A test from').inputValue());
    expect(stepped).toBeGreaterThan(dragged);
    await expect.poll(() => handle.getAttribute('aria-valuetext')).toBe(`${stepped} %`);
    await page.getByRole('button', { name: 'Undo' }).click();
    await expect.poll(async () => Number(await field('A test from').inputValue())).toBe(dragged);
    await page.getByRole('button', { name: 'Undo' }).click();
    await expect.poll(() => field('A test from').inputValue()).toBe('25');
  });

  it('the worker comes to what judge comes to in Node, byte for byte', async () => {
    const worker = page.workers()[0]?.url();
    if (worker === undefined) throw new Error('the page has no worker');
    expect(worker.startsWith(server.address)).toBe(true);
    for (const [name, thresholds] of [['live-pass', {}], ['demo-spike', { spikeHeight: '3 %' }], ['live-three-cycles', { quietTime: '1 s', settleWindow: '2 s' }]] as const) {
      const { samples, plan, thresholds: own } = runScenario(name, 4);
      const tried = parseThresholds(thresholds, 'tried');
      const run = { id: name, trace: { time: Array.from(samples.time), pressure: Array.from(samples.pressure), flags: Array.from(samples.flags) }, plan, own, instrument: null, recorded: null };
      const found = await page.evaluate(([url, held, by]) => new Promise<string>((resolve, reject) => {
        const reader = new Worker(url, { type: 'module' });
        reader.onmessage = ({ data }: MessageEvent<{ after: { outcome: unknown }[] }>) => resolve(JSON.stringify(data.after.map(({ outcome }) => outcome)));
        reader.onerror = (event) => reject(new Error(event.message));
        const { trace, ...rest } = held;
        reader.postMessage({ kind: 'hold', run: { ...rest, trace: { time: Float64Array.from(trace.time), pressure: Float64Array.from(trace.pressure), flags: Uint8Array.from(trace.flags) } } });
        reader.postMessage({ kind: 'read', ticket: 1, id: rest.id, thresholds: by });
      }), [worker, run, tried] as const);
      expect(canonicalJson(JSON.parse(found))).toBe(canonicalJson(judge(samples, plan, tried)));
    }
  });

  it('takes traces from files with their plan, and says which file is wrong and why', async () => {
    const { samples, setup, planText } = runScenario('demo-leak', 2);
    const file = (name: string, content: string) => ({ name, mimeType: 'text/plain', buffer: Buffer.from(content) });
    const csv = csvOf(samples, setup.transducer);
    await page.locator('#drop summary').click();
    await page.locator('#files').setInputFiles([file('steady-loss.csv', csv), file('words.csv', 'a,b\nno,numbers\n'), file('two-wire.yaml', planText)]);
    await untilRead('steady-loss.csv');
    await expect.poll(() => text('problem')).toMatch(/^words\.csv: /);
    await until('the residuals', async () => (await text('residual-words')).includes('root mean square'), deadline);
    await expect.poll(() => text('spectrum-words')).toMatch(/^Noise by frequency/);
    await page.locator('#files').setInputFiles([file('alone.csv', csv)]);
    await untilText('problem', 'alone.csv: no plan for it; add alone.plan.yaml, or one plan for all.');
  });

  it('axe-core finds nothing, light and dark, on a desk and on a tablet', async () => {
    const source = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
    await page.evaluate(source);
    for (const [width, height, colorScheme] of [[1440, 1000, 'light'], [1024, 768, 'dark']] as const) {
      await page.setViewportSize({ width, height });
      await page.emulateMedia({ colorScheme });
      await expect.poll(() => page.evaluate('axe.run().then(({ violations }) => violations.map(({ id, nodes }) => [id, nodes.map(({ target }) => target.join(" "))]))')).toEqual([]);
    }
  });

  it('says where programs find what it uses, and that page tells every address', async () => {
    await page.getByRole('link', { name: 'the HTTP interface that this page uses' }).click();
    await until('the areas', async () => (await page.locator('#areas details').count()) > 50, deadline);
    await field('Find by address or word').fill('compare recorded');
    await untilText('found', `1 of ${await page.locator('#areas details').count()} addresses`);
    await page.locator('summary', { hasText: '/api/benches/{bench}/compare' }).click();
    await expect.poll(() => page.locator('#areas details[open]').textContent()).toContain('YAML, as in a plan file');
    await page.locator('#areas details[open] a', { hasText: /^Compared$|^RunLabels$|^RunChange$/ }).first().click();
    await expect.poll(() => page.locator('#shape-list details[open]').count()).toBe(1);
    await page.evaluate(readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8'));
    await expect.poll(() => page.evaluate('axe.run().then(({ violations }) => violations.map(({ id, nodes }) => [id, nodes.map(({ target }) => target.join(" "))]))')).toEqual([]);
  });

  it('asked for nothing that its own server does not have, and nothing was refused', () => expect(complaints).toEqual([]));
});

import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { unzipSync } from 'fflate';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { importTrace } from '../../src/core/import/import-trace.js';
import { judge } from '../../src/core/judge.js';
import type { Outcome } from '../../src/core/outcome.js';
import { readPlanFile, readThresholdsFile } from '../../src/cli/judge-file.js';
import { parseExported, verifyExported } from '../../src/records/exported-record.js';
import { pdfText } from '../certificate/pdf-reading.js';
import { until } from '../server/until.js';
import { buildPages, sharedBrowser } from './page-server.js';
import { ShopDay } from './shop-day.js';

let day: ShopDay;
let page: Page;
const complaints: string[] = [];
const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-day-'));
const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

beforeAll(async () => {
  const pages = await buildPages();
  day = new ShopDay();
  await day.start(pages.folder);
  page = await (await sharedBrowser()).newPage({ viewport: { width: 1280, height: 800 }, acceptDownloads: true, locale: 'en-GB' });
  page.on('pageerror', (error) => complaints.push(String(error)));
  page.on('console', (line) => {
    if (line.type() === 'error' || line.type() === 'warning') complaints.push(line.text());
  });
  await page.goto(`${day.server.address}/live/`);
  await until('live', async () => (await page.locator('body').getAttribute('data-stale')) === 'false');
});
afterAll(async () => {
  await page.close();
  await day.stop();
  rmSync(folder, { recursive: true, force: true });
});

const press = (name: string | RegExp) => page.getByRole('button', { name, ...(typeof name === 'string' && { exact: true }) }).click();
const fill = (label: string, value: string) => page.getByLabel(label, { exact: true }).fill(value);
const text = async (selector: string): Promise<string> => (await page.locator(selector).textContent()) ?? '';
const oneLine = (said: string): string => said.replaceAll(/\s+/g, ' ');

async function keyIn(details: Readonly<Record<string, string>>): Promise<void> {
  await press('Job details');
  for (const [label, value] of Object.entries(details)) await fill(label, value);
  await press('Save job');
  await until('the job', async () => (await text('#job-words')).includes(details['Order'] ?? ''));
}

/** Plays a run of the simulated bench, and opens what the page asks after it. */
async function test(run: number, ...played: Parameters<ShopDay['play']>): Promise<void> {
  day.play(...played);
  await until(`run ${run}`, async () => (await text('#after-words')) === `Run ${run}: what was seen?`);
  await press('Say what was seen');
  await page.getByRole('heading', { name: `After run ${run}`, exact: true }).waitFor();
}

async function seen(finding: 'No leakage seen' | 'Not inspected'): Promise<void> {
  await page.getByText(finding, { exact: true }).click();
  await press('Save what was seen');
  await page.locator('.seen .stated', { hasText: 'Stated by J. Doe.' }).waitFor();
}

const assemblies = async (): Promise<string[]> => (await page.locator('.assemblies li .short').allTextContents()).map(oneLine);

/** As a scanner types: at once, with Enter, wherever the cursor is. */
const scan = (code: string) =>
  page.evaluate((signs) => {
    for (const key of [...signs, 'Enter']) (document.activeElement ?? document.body).dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true }));
  }, code);

async function saved(name: string): Promise<Buffer> {
  const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('link', { name, exact: true }).click()]);
  const path = join(folder, download.suggestedFilename());
  await download.saveAs(path);
  return readFileSync(path);
}

async function faults(): Promise<unknown> {
  // By the protocol of the browser, past the page's own policy, which rightly refuses foreign scripts.
  await page.evaluate(axe);
  return page.evaluate('axe.run().then(({ violations }) => violations.map(({ id, nodes }) => [id, nodes.map(({ target }) => target.join(" "))]))');
}

const address = (path: string): string => `${day.server.address}/api/benches/north%20bench/${path}`;

/** The stored trace of a run as the command `judge` reads it. */
async function judgedAgain(run: number): Promise<Outcome> {
  const csv = new Uint8Array(await (await fetch(address(`runs/${run}/trace.csv`))).arrayBuffer());
  const instrument = day.shop.hand.stored((store) => store.getRun(run)?.instrument ?? {});
  const [outcome] = judge(importTrace(csv, 'trace.csv').trace, readPlanFile(day.path('plan.yaml')), readThresholdsFile(day.path('thresholds.yaml')), instrument);
  if (outcome === undefined) throw new Error(`no outcome of run ${run}`);
  return outcome;
}

const marks = { met: '✓ met', broken: '✗ broken', undecided: '? undecided' } as const;

/** What the document of a run must say, figure by figure to the printed digit. */
async function expectFigures(run: number, document: string): Promise<Outcome> {
  const outcome = await judgedAgain(run);
  const flat = oneLine(document);
  for (const { rule, outcome: found, measured, limit, uncertainty, unit } of outcome.findings) {
    const figures = measured === null && limit === null ? [] : [measured, limit, ...(uncertainty === null ? [] : [`± ${Number(uncertainty.toPrecision(3))}`]), unit].filter((part) => part !== null && part !== '');
    // Whether a calibration is in force is no matter of the trace.
    if (rule !== 'data') expect(flat).toContain([rule, marks[found], ...figures].join(' '));
  }
  const [cycle] = outcome.cycles;
  for (const value of [cycle?.peak, cycle?.holdStartPressure, cycle?.holdMinimum, cycle?.drop]) if (value != null) expect(flat).toContain(`${value} bar`);
  return outcome;
}

describe('a day at the bench, from the first job to the last', { timeout: 120_000 }, () => {
  it('1: keyed in with a range of serials, tight, nothing seen: the certificate can be handed over', async () => {
    await keyIn({
      Order: 'D-1001', 'Customer, reference': 'Example Farm', Assemblies: 'A17-001..003', Hose: 'two-wire DN12', 'Hose lot': 'L-33', 'End fittings': 'DKO 15L ≤ 315 bar', Medium: 'water',
      Operator: 'J. Doe', Responsible: 'M. Roe',
    });
    await test(1, 'demo-pass', 1);
    await seen('No leakage seen');
    await expect.poll(() => assemblies()).toEqual(['A17-001: Pass', 'A17-002: Pass', 'A17-003: Pass']);
    await expect.poll(() => text('.papers .stated')).toBe('Complete: it can be handed over.');
    const paper = pdfText(await saved('Save certificate'));
    for (const word of ['Certificate of a proof pressure test', 'PASS', 'D-1001', 'Example Farm', 'A17-003', 'DKO 15L ≤ 315 bar', 'no leakage seen. Stated by J. Doe', 'T-7', 'C-118']) expect(oneLine(paper)).toContain(word);
    expect((await expectFigures(1, paper)).verdict).toBe('pass');
  });

  it('2: the same job again in one touch', async () => {
    await press('Same job again');
    await until('the job', async () => (await text('#job-words')) === 'Next run: order D-1001 · Example Farm · 3 assemblies, A17-001 to A17-003 · J. Doe');
    await test(2, 'demo-glitch', 2);
    await seen('No leakage seen');
    await expect.poll(() => assemblies()).toEqual(['A17-001: Pass', 'A17-002: Pass', 'A17-003: Pass']);
  });

  it('3 and 4: scanned; the manifold fails by its drop, and one assembly is tested again alone', async () => {
    await press('Close');
    await scan('D-1002');
    await until('the question', async () => (await text('#scan')).startsWith('Scanned D-1002'));
    if ((await text('#scan')).includes('What is it?')) await page.locator('#scan').getByRole('button', { name: 'Order' }).click();
    await page.locator('#chart').focus();
    await scan('A17-010');
    await scan('A17-011');
    await expect.poll(() => page.getByLabel('Order', { exact: true }).inputValue()).toBe('D-1002');
    await expect.poll(() => page.getByLabel('Assemblies', { exact: true }).inputValue()).toBe('A17-010, A17-011');
    await fill('Hose', 'two-wire DN12');
    await press('Save job');
    await until('the job', async () => (await text('#job-words')) === 'Next run: order D-1002 · A17-010, A17-011 · J. Doe');
    await test(3, 'demo-drop', 1);
    await expect.poll(() => assemblies()).toEqual(['A17-010: Retest alone', 'A17-011: Retest alone']);
    await seen('No leakage seen');
    const paper = pdfText(await saved('Save report'));
    expect(paper).toContain('NO CERTIFICATE');
    expect(await expectFigures(3, paper)).toMatchObject({ verdict: 'fail' });

    await press(/^Retest A17-011 alone/);
    await until('the retest', async () => (await text('#job-words')) === 'Next run: order D-1002 · A17-011 · retest of run 3 · J. Doe');
    await test(4, 'demo-pass', 3);
    await seen('No leakage seen');
    await expect.poll(() => assemblies()).toEqual(['A17-011: Pass']);
    const alone = oneLine(pdfText(await saved('Save certificate')));
    expect(alone).toContain('run 3');
    expect((await expectFigures(4, alone)).verdict).toBe('pass');
  });

  it.each<[run: number, what: string, played: Parameters<ShopDay['play']>, verdict: string, rule: string, shown: string]>([
    [5, 'a steady leak', ['demo-leak', 1], 'fail', 'leak', 'Fail'],
    [6, 'a burst in the hold', ['demo-burst', 1], 'fail', 'burst', 'Fail'],
    [7, 'a spike above the ceiling', ['demo-spike', 1], 'fail', 'ceiling', 'Fail'],
    [8, 'a gap in the hold', ['demo-pass', 4, (setup) => ({ ...setup, faults: [{ kind: 'gap', start: { when: 'hold', cycle: 0, after: 8 }, duration: 4 }] })], 'inconclusive', 'data', 'Inconclusive'],
    [9, 'vented too early', ['demo-vent-early', 1], 'inconclusive', 'hold', 'Inconclusive'],
  ])('%i: %s', async (run, _what, played, verdict, rule, shown) => {
    await press('Close');
    await keyIn({ Order: `D-100${run}`, Hose: 'two-wire DN12', Assemblies: `A17-0${run}0` });
    await test(run, ...played);
    await expect.poll(() => assemblies()).toEqual([`A17-0${run}0: ${shown}`]);
    await seen('Not inspected');
    const paper = pdfText(await saved('Save report'));
    const outcome = await expectFigures(run, paper);
    expect(outcome.verdict).toBe(verdict);
    expect(outcome.findings.filter(({ outcome: found }) => found !== 'met').map((finding) => finding.rule)).toContain(rule);
    expect(paper).toContain('NO CERTIFICATE');
  });

  it('10: the pressure held, but leakage was seen at one of two assemblies', async () => {
    await press('Close');
    await keyIn({ Order: 'D-1010', Hose: 'two-wire DN12', Assemblies: 'A17-100, A17-101' });
    await test(10, 'demo-pass', 5);
    await page.getByText('Leakage seen', { exact: true }).click();
    await fill('Where on A17-101', 'crimp, end B');
    await press('Save what was seen');
    await until('the failure', async () => (await assemblies()).join() === 'A17-100: Pass,A17-101: Fail');
    await until('no pass any more', async () => (await text('#verdict-word')) === 'Fail');
    const paper = oneLine(pdfText(await saved('Save report')));
    for (const word of ['NO CERTIFICATE', 'FAIL', 'A17-101 (crimp, end B)']) expect(paper).toContain(word);
    expect((await expectFigures(10, paper)).verdict).toBe('pass');
  });

  it('11: nothing was keyed in; the details are added after the run and change what can be handed over', async () => {
    await press('Close');
    await test(11, 'demo-pass', 6);
    await seen('No leakage seen');
    await expect.poll(() => text('.papers .lacking')).toContain('incomplete: order, customer');
    await press('Add job details');
    for (const [label, value] of Object.entries({ Order: 'D-1002', 'Customer, reference': 'Example Farm', Assemblies: 'A17-110', Hose: 'two-wire DN12', 'Hose lot': 'L-34', 'End fittings': 'DKO 15L', Medium: 'water', Operator: 'J. Doe', Responsible: 'M. Roe' })) await fill(label, value);
    await press('Save job');
    await until('complete', async () => (await page.locator('.papers').count()) === 1 && (await text('.papers .stated')) === 'Complete: it can be handed over.');
    const paper = oneLine(pdfText(await saved('Save certificate')));
    for (const word of ['Certificate of a proof pressure test', 'A17-110', 'L-34']) expect(paper).toContain(word);
    expect((await expectFigures(11, paper)).verdict).toBe('pass');
  });

  it('one file of an order holds all its runs, and records that can be checked alone', async () => {
    await page.getByText('More: labels, one each, data, order').click();
    const files = unzipSync(await saved('Order D-1002 (ZIP)'));
    const order = oneLine(pdfText(files['order-D-1002.pdf'] ?? new Uint8Array()));
    for (const word of ['A17-010', 'A17-011', 'A17-110', 'run 3', 'run 4', 'run 11']) expect(order).toContain(word);
    expect(Object.keys(files).filter((name) => name.endsWith('.json')).sort()).toEqual(['run-11.json', 'run-3.json', 'run-4.json']);
    for (const run of [3, 4, 11]) {
      const record = parseExported(Buffer.from(files[`run-${run}.json`] ?? []).toString('utf8'), `run-${run}.json`);
      expect(verifyExported(record, 'dwellkeeper test')).toMatchObject({ breaches: [], intact: true });
    }
  });

  it('12: the morning after the calibration ran out, nothing passes any more', async () => {
    await press('Close');
    await keyIn({ Order: 'D-1012', Hose: 'two-wire DN12', Assemblies: 'A17-120' });
    day.shop.hand.wait(36 * 3600);
    await test(12, 'demo-pass', 7);
    await expect.poll(() => assemblies()).toEqual(['A17-120: Inconclusive']);
    await seen('No leakage seen');
    const paper = oneLine(pdfText(await saved('Save report')));
    for (const word of ['NO CERTIFICATE', 'INCONCLUSIVE', 'The calibration of the transducer was overdue', '2027-03-01 (overdue at this run)']) expect(paper).toContain(word);
    await expectFigures(12, paper);
    expect(complaints).toEqual([]);
  });

  it('all of it is found again, and counted: a retest and what was inconclusive stand apart', async () => {
    await page.goto(`${day.server.address}/history/?order=D-1002`);
    await until('the runs', async () => (await page.locator('.runs-table tbody tr').count()) === 3);
    await expect.poll(async () => (await page.locator('.runs-table tbody th').allTextContents()).map(oneLine)).toEqual(['11', '4', '3']);
    await page.goto(`${day.server.address}/history/?view=statistics`);
    await until('the groups', async () => (await page.locator('.groups tbody tr').count()) === 1);
    const cells = (await page.locator('.groups tbody td').allTextContents()).map(oneLine);
    // First tests: runs 1, 2, 11 passed; 3, 5, 6, 7, 10 failed; 8, 9, 12 told nothing. Run 4 was a retest.
    expect(cells.slice(0, 6)).toEqual(['two-wire DN12', expect.stringMatching(/^37\.5 %/), '3', '5', '3', '1 of 1']);
    await page.goto(`${day.server.address}/history/?run=10`);
    await page.locator('.run-head', { hasText: 'A17-101: fail' }).waitFor();
  });
});

describe('the page of the changes', { timeout: 120_000 }, () => {
  const said = async (): Promise<string[]> => (await page.locator('#entries > li .said > div:first-child').allTextContents()).map(oneLine);

  it('tells who changed what, the newest first, with what a version changed and the run of a job', async () => {
    const { library } = day.shop.desk;
    const plan = library.get('plan');
    plan.file.save({ base: 1, text: plan.newest.text.replace('20 s', '30 s'), who: '=HYPERLINK("x")', why: '<b>asked for</b> by the customer' });
    day.shop.savedByHand();
    for (let i = 0; i < 3; i++) day.changes.poll();
    await page.goto(`${day.server.address}/changes/`);
    await until('the entries', async () => (await said()).length > 10);
    await expect.poll(async () => (await said())[0]).toMatch(/^Plan plan: version 2 \(entry \d+\)$/);
    await expect.poll(() => page.locator('#entries > li').first().locator('.why').textContent()).toBe('Why: <b>asked for</b> by the customer');
    await page.getByRole('button', { name: 'What it changed' }).first().press('Enter');
    await until('the difference', async () => (await page.locator('#entries table td').allTextContents()).join(' to ') === '20 s to 30 s');
    await page.locator('#chain', { hasText: 'The chain is whole' }).waitFor();
    await expect.poll(() => page.getByRole('link', { name: 'Run 12', exact: true }).getAttribute('href')).toBe('../history/?bench=north%20bench&run=12');
    for (const colorScheme of ['light', 'dark'] as const) {
      await page.emulateMedia({ colorScheme });
      await expect.poll(() => faults()).toEqual([]);
    }
  });

  it('finds by person, kind, words and day; saves a table in which nothing is a formula; fits a phone', async () => {
    await page.setViewportSize({ width: 390, height: 780 });
    await fill('Words', 'D-1010 a17-101');
    await page.locator('select[name=kind]').selectOption('job');
    await page.getByLabel('Words', { exact: true }).press('Enter');
    await until('the one', async () => (await said()).length === 1);
    await expect.poll(() => text('#progress')).toMatch(/^1 change found, of \d+ on record\.$/);
    await expect.poll(() => page.evaluate(() => document.documentElement.scrollWidth <= innerWidth)).toBe(true);
    await page.reload();
    await until('the one, by its address', async () => (await said()).length === 1);
    await fill('From', '2031-01-01');
    await press('Search');
    await until('nothing', async () => (await text('#progress')).startsWith('No change fits;'));
    await press('Clear');
    await fill('Who', 'hyperlink');
    await press('Search');
    await until('the one by that name', async () => (await said()).length === 1);
    const table = (await saved('Save as CSV')).toString('utf8');
    expect(table.split('\r\n')[0]).toBe('number,at,who,subject,what,why,changes,run,details');
    expect(table).toContain(`"'=HYPERLINK(""x"")"`);
    expect(complaints).toEqual([]);
  });

  it('loads older entries when they are wanted, and says when an entry was changed behind its back', async () => {
    for (let i = 0; i < 60; i++) day.changes.trail.note({ who: 'M. Roe', subject: 'people', what: `change ${i}` });
    await page.goto(`${day.server.address}/changes/`);
    await until('a page of them', async () => (await said()).length === 50);
    await press('Older changes');
    await until('all of them', async () => (await text('#progress')).startsWith('All '));
    await expect.poll(async () => (await said()).at(-1)).toMatch(/\(entry 1\)$/);
    const db = new Database(day.path('records.sqlite'));
    db.exec("DROP TRIGGER audit_not_changed; UPDATE audit SET record = replace(record, 'change 7', 'change 8') WHERE record LIKE '%change 7\"%'");
    db.close();
    await page.reload();
    await page.locator('#chain', { hasText: 'The chain is not whole' }).waitFor();
    await expect.poll(() => text('#chain li')).toMatch(/^audit entry \d+: the entry or its seal was changed$/);
    // Whoever may not read it, and a bench at which nothing was changed yet.
    await page.route('**/audit?*', (route) => route.fulfill({ status: 403, json: { error: 'this is for engineers' } }));
    await page.reload();
    await until('the refusal', async () => (await text('#problem')) === 'Who changed what is for engineers; ask one of them, or sign in as one.');
    await page.unroute('**/audit?*');
    await page.route('**/audit?*', (route) => route.fulfill({ json: { entries: [], before: null, looked: 0, onRecord: 0 } }));
    await page.reload();
    await until('the empty page', async () => (await text('#progress')).startsWith('Nothing was written down yet.'));
  });
});

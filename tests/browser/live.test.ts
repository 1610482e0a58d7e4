import type { Browser, Page, WebSocketRoute } from 'playwright-core';
import { afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { HttpServer } from '../../src/server/http-server.js';
import { operatorRoutes } from '../../src/server/operator-routes.js';
import { idleDesk } from '../server/idle-desk.js';
import { runOf, ScriptedFeed } from '../server/scripted-feed.js';
import { until } from '../server/until.js';
import { buildPages, sharedBrowser } from './page-server.js';

let browser: Browser;
let pages: Awaited<ReturnType<typeof buildPages>>;
let server: HttpServer;
let feed: ScriptedFeed;
let page: Page;
/** What the browser complained of: errors of the page, and whatever its security policy refused. */
let complaints: string[];
let giving: NodeJS.Timeout | undefined;

beforeAll(async () => {
  pages = await buildPages();
  browser = await sharedBrowser();
});
beforeEach(async () => {
  feed = new ScriptedFeed('bench one');
  server = await HttpServer.start({ benches: [feed], pages: pages.folder, routes: (app) => operatorRoutes(app, [idleDesk(feed.name)]) });
  page = await browser.newPage({ viewport: { width: 1280, height: 800 } });
  complaints = [];
  page.on('pageerror', (error) => complaints.push(String(error)));
  page.on('console', (line) => {
    if (line.type() === 'error' || line.type() === 'warning') complaints.push(line.text());
  });
});
afterEach(async () => {
  clearInterval(giving);
  await page.close();
  await server.close();
});

const text = async (id: string): Promise<string> => (await page.locator(`#${id}`).textContent()) ?? '';
const chart = async (name: string): Promise<string> => (await page.locator('#chart').getAttribute(`data-${name}`)) ?? '';
const body = async (name: string): Promise<string> => (await page.locator('body').getAttribute(`data-${name}`)) ?? '';
const highest = async (): Promise<number> => Number(await chart('highest-bar'));
const open = () => page.goto(`${server.address}/live/`);

/** Keeps a quiet pressure coming, so that the page has something alive, until the test is over. */
function keepGiving(pressure: number): void {
  giving = setInterval(() => feed.give([(feed.time.at(-1) ?? 0) + 0.1, pressure]), 100);
}
const steady = (count: number, pressure = 350, from = 0) => Array.from({ length: count }, (_, i) => [from + i / 10, pressure] as const);

describe('the live page in a real browser', () => {
  it('shows pressure, band, phase, countdown, what decides, and then the verdict with its reasons', async () => {
    feed.give(...steady(600, 548.3));
    feed.since = 0;
    feed.show({
      phase: 'holding', sentence: 'holding, 0:42 left if it stays above 530 bar', verdict: 'pending', holdSince: 42, holdLeft: 42,
      deciding: ['It fails if the pressure is lost.'], peak: 556.2, strokes: 41,
    });
    keepGiving(548.3);
    await open();
    await until('live', async () => (await body('stale')) === 'false');
    await expect.poll(() => text('figure')).toBe('548.3');
    await expect.poll(() => text('band')).toBe('band: 530.0 to 600.0 bar');
    await expect.poll(() => text('phase')).toBe('Holding');
    await expect.poll(() => text('hold-left')).toBe('0:42');
    await expect.poll(() => text('sentence')).toBe('left if it stays above 530 bar');
    await expect.poll(() => text('verdict-word')).toBe('Pending');
    await expect.poll(() => text('verdict-lines')).toBe('It fails if the pressure is lost.');
    await expect.poll(() => text('peak')).toBe('556.2 bar');
    await expect.poll(() => text('age-words')).toMatch(/^live, /);

    await page.getByRole('radio', { name: 'psi' }).check();
    await until('psi', async () => (await text('figure')) === '7952');
    await expect.poll(() => text('sentence')).toBe('left if it stays above 7687 psi');
    await page.getByRole('radio', { name: 'bar' }).check();

    feed.since = null;
    feed.finish(runOf({ verdict: 'fail', reasons: ['leak of 2.31 bar/min is above the limit of 1.5 bar/min'], peak: 556.2 }));
    feed.show({ phase: 'vented', sentence: 'vented', verdict: 'fail', deciding: [], holdLeft: null, holdSince: null, peak: null });
    await until('the verdict', async () => (await text('verdict-word')) === 'Fail');
    await expect.poll(() => text('verdict-lines')).toBe('leak of 2.31 bar/min is above the limit of 1.5 bar/min');
    await expect.poll(() => page.locator('#verdict-shape').getAttribute('data-shape')).toBe('octagon-cross');
    await expect.poll(() => page.locator('#runs li').first().textContent()).toContain('Fail');
    expect(complaints).toEqual([]);
  });

  it('FC-33: a single sample of 412.7 among 6000 is drawn, at any zoom', async () => {
    feed.give(...steady(6000).map(([t, p], i) => [t, i === 3123 ? 412.7 : p] as const));
    feed.since = 0;
    feed.show({});
    keepGiving(350);
    await open();
    await until('the trace', async () => (await highest()) > 412);
    for (const times of [0, 1, 2]) {
      if (times > 0) await page.getByRole('button', { name: 'Farther' }).click();
      await expect.poll(() => highest()).toBeCloseTo(412.7, 2);
      await expect.poll(async () => Number(await chart('points'))).toBeLessThan(6000);
    }
    feed.find({ kind: 'spike', at: 312.3, height: 62.7, width: 0.1 });
    await page.getByRole('button', { name: 'Show spike: height 62.7 bar, 0.1 s on the trace' }).click();
    await until('the spike from near', async () => Number(await chart('points')) < 200);
    await expect.poll(() => highest()).toBeCloseTo(412.7, 2);
    await expect.poll(() => text('show-run')).toBe('Back to live');
  });

  it('FC-35: a gap is a gap and says how long, a missing sample is no dip, NaN is never 0', async () => {
    feed.told = { ...feed.told, gap: 1.5 };
    feed.give(...Array.from({ length: 10 }, (_, i) => [i, 350] as const), [40, 349], [41, Number.NaN], [42, 349]);
    feed.since = 0;
    feed.show({});
    await open();
    await until('the trace', async () => (await chart('gaps')) !== '');
    await expect.poll(() => chart('gaps')).toBe('31 s without data; 2 s without data');
    await expect.poll(() => text('events')).toContain('31 s without data');
    await expect.poll(() => chart('lowest-bar')).toBe('349.000');
    await expect.poll(() => chart('lines')).toBe('3');
    feed.give([42.1, Number.NaN]);
    await until('no number for the missing sample', async () => (await text('figure')) === '–');
    await expect.poll(() => text('phase')).toBe('No valid reading');
    await expect.poll(() => chart('lowest-bar')).toBe('349.000');
  });

  it('FC-34: when samples stop, the page greys, says so in words, and shows no verdict', async () => {
    feed.give(...steady(50));
    feed.finish(runOf({ verdict: 'pass' }));
    feed.show({ verdict: 'pass' });
    await open();
    await until('the verdict', async () => (await text('verdict-word')) === 'Pass');
    await until('stale', async () => (await body('stale')) === 'true');
    await expect.poll(() => text('verdict-word')).toBe('Not known now');
    await expect.poll(() => text('age-words')).toMatch(/^no live data for \d+ s$/);
    await expect.poll(() => text('alarm')).toContain('No live data');
    await expect.poll(() => page.locator('#alarm').isVisible()).toBe(true);
    await expect.poll(async () => Number(await page.locator('.reading').evaluate((element) => getComputedStyle(element).opacity))).toBeLessThan(0.5);
    keepGiving(350);
    await until('alive again', async () => (await text('verdict-word')) === 'Pass' && (await body('stale')) === 'false');
  });

  it('FC-34: a link that stays open and says nothing is given up, and the page comes back by itself', async () => {
    let muted = false;
    await page.routeWebSocket(/live\/socket/, (socket: WebSocketRoute) => {
      const upstream = socket.connectToServer();
      const mine = { muted: false };
      upstream.onMessage((message) => {
        if (muted) mine.muted = true;
        if (!mine.muted) socket.send(message);
      });
    });
    feed.give(...steady(50));
    keepGiving(350);
    await open();
    await until('live', async () => (await body('stale')) === 'false');
    await expect.poll(() => body('attempts')).toBe('1');
    muted = true;
    await until('stale', async () => (await body('stale')) === 'true');
    muted = false;
    await until('connected anew', async () => Number(await body('attempts')) >= 2 && (await body('stale')) === 'false');
  });

  it('FC-32: after ten minutes away the missing part is fetched once, the spike in it is drawn, and there is no hole', async () => {
    const routes: WebSocketRoute[] = [];
    let down = false;
    const asked: string[] = [];
    await page.routeWebSocket(/live\/socket/, (socket: WebSocketRoute) => {
      routes.push(socket);
      if (down) return void socket.close();
      const upstream = socket.connectToServer();
      socket.onMessage((message) => {
        if (typeof message === 'string' && message.includes('follow')) asked.push(message);
        upstream.send(message);
      });
    });
    feed.give(...steady(100));
    feed.since = 0;
    feed.show({});
    await open();
    await until('the first part', async () => Number(await chart('points')) > 50);
    down = true;
    await routes[0]?.close();
    feed.give(...steady(6000, 350, 10).map(([t, p], i) => [t, i === 2000 ? 412.7 : p] as const));
    down = false;
    keepGiving(350);
    await until('the missing part', async () => (await highest()) > 412);
    await until('live', async () => (await body('stale')) === 'false');
    await expect.poll(() => chart('gaps')).toBe('');
    await expect.poll(() => chart('lines')).toBe('1');
    expect(asked.map((message) => JSON.parse(message) as { after: unknown }).map(({ after }) => after)).toEqual([null, 99]);
  });

  it('looking back stops nothing, and leads back to live', async () => {
    feed.give(...steady(1200));
    feed.since = 0;
    feed.show({});
    keepGiving(351);
    await open();
    await until('the trace', async () => Number(await chart('points')) > 100);
    await page.locator('#chart').focus();
    await page.keyboard.press('+');
    await page.keyboard.press('Shift+ArrowLeft');
    await expect.poll(() => chart('window')).toBe('fixed');
    const before = feed.newest();
    await page.keyboard.press('ArrowRight');
    await until('the reading line', async () => /350\.0 bar/.test(await text('readout')));
    await page.keyboard.press('m');
    await page.keyboard.press('ArrowRight');
    await until('two places measured', async () => /from the mark .* and \+0\.0 bar/.test(await text('readout')));
    await until('figures go on', async () => feed.newest() > before + 3 && (await text('figure')) === '351.0');
    await page.keyboard.press('End');
    await until('live again', async () => (await chart('window')) === 'run' && (await highest()) > 350.9);
    expect(complaints).toEqual([]);
  });

  it('measuring begins where the trace is clicked after the button', async () => {
    feed.give(...steady(600));
    feed.since = 0;
    feed.show({});
    await open();
    await until('the trace', async () => Number(await chart('points')) > 100);
    await page.getByRole('button', { name: 'Measure' }).click();
    await expect.poll(() => text('readout')).toBe('Click on the trace where measuring begins.');
    const over = page.locator('#chart .u-over');
    await over.click({ position: { x: 300, y: 60 } });
    await over.hover({ position: { x: 200, y: 60 } });
    await until('back from the mark', async () => /from the mark −\d.* s and \+0\.0 bar/.test(await text('readout')));
    await expect.poll(() => chart('window')).not.toBe('fixed');
    await page.getByRole('button', { name: 'Measure' }).click();
    await over.hover({ position: { x: 210, y: 60 } });
    await until('no mark', async () => !(await text('readout')).includes('mark'));
  });

  it('lays an earlier run under the trace', async () => {
    feed.give(...steady(300, 200), ...steady(300, 400, 30));
    feed.runs = [runOf({ id: '5', from: 0, to: 29.9, verdict: 'pass' })];
    feed.since = 30;
    feed.show({});
    await open();
    const fetched = page.waitForResponse(/envelope\?run=5/);
    await page.getByRole('button', { name: /: the run of/ }).click();
    const answer = await fetched;
    expect(answer.status()).toBe(200);
    await until('pressed', async () => (await page.locator('#runs button').getAttribute('aria-pressed')) === 'true');
    await until('the earlier run drawn', async () => (await chart('earlier-lines')) === '1');
    await page.getByRole('button', { name: /: the run of/ }).click();
    await until('and gone', async () => (await page.locator('#chart').getAttribute('data-earlier-lines')) === null);
  });

  it('an alarm cannot be overlooked and does not hide the pressure', async () => {
    feed.give(...steady(50, 550));
    feed.show({ phase: 'holding' });
    feed.change({ lid: 'open', notices: [{ weight: 'alarm', text: 'Lid open at 550 bar.' }] });
    keepGiving(550);
    await open();
    await until('the alarm', async () => (await text('alarm')) === 'Lid open at 550 bar.');
    await expect.poll(() => page.locator('#action').getAttribute('data-weight')).toBe('stop');
    const [alarm, figure] = [await page.locator('#alarm').boundingBox(), await page.locator('#figure').boundingBox()];
    expect((alarm?.y ?? 0) + (alarm?.height ?? 0)).toBeLessThanOrEqual(figure?.y ?? 0);
  });

  it.each([[1280, 800], [800, 1280], [390, 844]])('at %i x %i nothing runs out of the page and the cautions are on it', async (width, height) => {
    await page.setViewportSize({ width, height });
    feed.give(...steady(100, 548.3));
    keepGiving(548.3);
    await open();
    await until('live', async () => (await body('stale')) === 'false');
    await expect.poll(() => page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth)).toBe(0);
    const [ruler, pressure] = [await page.locator('#ruler').boundingBox(), await page.locator('section.pressure').boundingBox()];
    expect((ruler?.x ?? 0) + (ruler?.width ?? 0)).toBeLessThanOrEqual((pressure?.x ?? 0) + (pressure?.width ?? 0));
    const cautions = (await page.locator('footer').textContent())?.replaceAll(/\s+/g, ' ') ?? '';
    for (const words of ['Lid latched and mat in place', 'Never approach or tighten', 'Purge the air', 'no safety device', 'local rules']) expect(cautions).toContain(words);
    await expect.poll(() => page.locator('footer').isVisible()).toBe(true);
    for (const button of await page.locator('main button:visible').all()) {
      await expect.poll(async () => (await button.boundingBox())?.height ?? 0).toBeGreaterThanOrEqual(38);
    }
  });

  it('can be used without eyes and without a mouse: names, roles, live regions, contrast', async () => {
    feed.give(...steady(50));
    feed.runs = [runOf({})];
    feed.find({ kind: 'spike', at: 2, height: 9 });
    for (const colorScheme of ['light', 'dark'] as const) {
      await page.emulateMedia({ colorScheme });
      await open();
      await until('lists', async () => (await page.locator('#runs button').count()) > 0);
      const found = await page.evaluate(() => {
        const name = (element: Element) => element.getAttribute('aria-label') ?? element.textContent?.trim() ?? '';
        const ids = [...document.querySelectorAll('[id]')].map(({ id }) => id);
        const referred = [...document.querySelectorAll('[aria-labelledby]')].map((element) => element.getAttribute('aria-labelledby') ?? '');
        // Relative luminance and contrast: W3C WCAG 2.2, success criterion 1.4.3.
        const channel = (c: number) => (c <= 0.03928 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
        const light = (colour: string) => {
          const [r = 0, g = 0, b = 0] = (colour.match(/[\d.]+/g) ?? []).map(Number);
          return 0.2126 * channel(r / 255) + 0.7152 * channel(g / 255) + 0.0722 * channel(b / 255);
        };
        const ground = (element: Element | null): string => {
          for (let e = element; e; e = e.parentElement) {
            const { backgroundColor } = getComputedStyle(e);
            if (!/, 0\)$|transparent/.test(backgroundColor)) return backgroundColor;
          }
          return 'rgb(255, 255, 255)';
        };
        const written = [...document.querySelectorAll('h1, h2, h3, dt, dd, #plan, #sentence, #phase, #band, .why, button, footer p, #age-words, .unit, #readout, time, label')];
        const poor = written.filter((element) => element.textContent?.trim()).map((element) => {
          const [a, b] = [light(getComputedStyle(element).color), light(ground(element))];
          return { what: `${element.tagName} ${element.id} ${name(element).slice(0, 20)}`, ratio: (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05) };
        }).filter(({ ratio }) => ratio < 4.5).map(({ what, ratio }) => `${what}: ${ratio.toFixed(2)}`);
        return {
          language: document.documentElement.lang,
          headings: document.querySelectorAll('h1').length,
          landmarks: ['header', 'main', 'footer'].map((tag) => document.querySelectorAll(tag).length),
          nameless: [...document.querySelectorAll('button, a, input, section, [tabindex]')].filter((element) =>
            name(element) === '' && !element.hasAttribute('aria-labelledby') && !element.closest('label')).length,
          doubleIds: ids.length - new Set(ids).size,
          broken: referred.filter((id) => !document.getElementById(id)),
          polite: ['phase', 'action-words', 'verdict'].map((id) => document.getElementById(id)?.getAttribute('aria-live')),
          spokenFigure: document.getElementById('figure')?.closest('[aria-live]') !== null,
          alert: document.getElementById('alarm')?.getAttribute('role'),
          outside: [...document.querySelectorAll('script, link, img')].map((e) => e.getAttribute('src') ?? e.getAttribute('href') ?? '').filter((address) => /^(https?:)?\/\//.test(address)),
          poor,
        };
      });
      expect(found).toEqual({
        language: 'en', headings: 1, landmarks: [1, 1, 1], nameless: 0, doubleIds: 0, broken: [],
        polite: ['polite', 'polite', 'polite'], spokenFigure: false, alert: 'alert', outside: [], poor: [],
      });
    }
    // The ways to the other pages come first.
    const onUnits = () => page.evaluate(() => document.activeElement instanceof HTMLInputElement && document.activeElement.name === 'unit');
    for (let i = 0; i < 12 && !(await onUnits()); i++) await page.keyboard.press('Tab');
    await page.keyboard.press('ArrowRight');
    await until('the unit by keys', async () => (await text('unit')) === 'MPa');
  });
});

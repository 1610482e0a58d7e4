/**
 * A run of 24 hours at 100 readings a second, opened and pulled along on the runs page in a real Chromium:
 *
 *     npm run bench -- page
 *
 * The store is a real file; pages and answers come over HTTP, as from the daemon.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium, type Page } from 'playwright-core';
import { build } from 'vite';
import { parsePlan } from '../../src/core/plan.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import { documentMaker } from '../../src/certificate/document-maker.js';
import { JobDesk } from '../../src/daemon/job-desk.js';
import { storeHistory } from '../../src/history/store-history.js';
import { traceStretch } from '../../src/history/trace-stretch.js';
import { encodeBlock } from '../../src/records/block-codec.js';
import { BlockTable } from '../../src/records/block-table.js';
import { openStore, type Store } from '../../src/records/store.js';
import { summariesOf } from '../../src/records/summary.js';
import { historyRoutes } from '../../src/server/history-routes.js';
import { HttpServer } from '../../src/server/http-server.js';
import { operatorRoutes } from '../../src/server/operator-routes.js';
import { ScriptedFeed } from '../server/scripted-feed.js';

const bench = 'bench 1';
const rate = 100;
const day = 86_400;
const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-bench-'));
const path = join(folder, 'records.sqlite');
const say = (what: string, value: number, unit: string): void => {
  console.log(`${what.padEnd(74)} ${value.toPrecision(3).padStart(9)} ${unit}`);
};
const middle = (values: readonly number[], share = 0.5): number => [...values].sort((a, b) => a - b)[Math.floor(values.length * share)] ?? Number.NaN;

/** bar: up in 10 minutes, held for the day with noise and a spike of one reading every 40 minutes, down again. */
function pressureAt(i: number): number {
  const t = i / rate;
  if (t < 600) return (550 * t) / 600;
  if (t > day - 60) return 548 * Math.max((day - t) / 60, 0);
  return 548 + 2 * Math.exp(-(t - 600) / 900) + 0.02 * Math.sqrt(-2 * Math.log(1 - Math.random())) * Math.cos(6.283 * Math.random()) + (i % 240_000 === 123_456 ? 30 : 0);
}

function recordDay(store: Store): void {
  const channel = store.channel(bench, 'pressure', 'bar').id;
  const segment = store.channels.beginSegment(channel, { time: 0, wall: Date.now() - day * 1000 });
  const plan = store.keepVersion('plan', parsePlan({ plan: 'a day at pressure', testPressure: '550 bar', holdTime: '23 h', minimumPressure: '530 bar', ceilingPressure: '600 bar' }, 'plan'));
  const run = store.openRun({ channel, from: 0, plan, thresholds: store.keepVersion('thresholds', standardThresholds), instrument: { resolution: 0.01 } });
  const blocks = new BlockTable(store.db);
  const size = 65_536;
  store.db.transaction(() => {
    for (let position = 0; position < day * rate; position += size) {
      const count = Math.min(size, day * rate - position);
      const samples = {
        time: Float64Array.from({ length: count }, (_, k) => (position + k) / rate),
        pressure: Float64Array.from({ length: count }, (_, k) => Math.round(pressureAt(position + k) * 100) / 100),
        flags: new Uint8Array(count), raw: null,
      };
      blocks.insert({ channel, segment, position, tier: 2 }, samples, encodeBlock(samples), summariesOf(samples));
    }
  })();
  store.finishRun(run, {
    to: day - 1 / rate,
    outcome: {
      verdict: 'pass', findings: [], events: [], notes: [], plan: 'a day at pressure', thresholds: 'standard',
      cycles: [{ rising: 1, reached: 597, settled: 1200, holdEnd: day - 70, vented: day - 60, peak: 580, holdStartPressure: 548, holdMinimum: 547.9, drop: 0.1, dropPercent: 0.02, strokes: 0, topUps: 0, leak: null, verdict: 'pass' }],
      signal: { samples: day * rate, interval: 1 / rate, resolution: 0.01, noise: 0.02, missing: 0, duplicates: 0, backward: 0 },
    },
  });
}

function answering(store: Store): void {
  for (const [what, span] of [['24 h', day], ['6 h', day / 4], ['1 h', 3600], ['10 min', 600], ['1 min', 60]] as const) {
    const times = Array.from({ length: 15 }, (_, k) => {
      const from = ((day - span) * k) / 15;
      // Processor time, which other programs on the machine disturb less than time by the clock.
      const began = process.cpuUsage();
      JSON.stringify(traceStretch(store, bench, { run: 1, from, to: from + span, columns: 1200 }));
      const { user, system } = process.cpuUsage(began);
      return (user + system) / 1000;
    });
    say(`server: ${what} as 1,200 columns, median`, middle(times), 'ms CPU');
    say('  the slowest of 15', Math.max(...times), 'ms CPU');
  }
}

/** Notes when something is first drawn, and every frame. */
const watchFrames = (): void => {
  const seen = { drawn: 0, frames: [] as number[] };
  Object.assign(globalThis, { seen });
  new MutationObserver(() => {
    if (seen.drawn === 0 && Number(document.querySelector<HTMLElement>('.chart')?.dataset['points'] ?? 0) > 0) seen.drawn = performance.now();
  }).observe(document, { subtree: true, childList: true, attributes: true, attributeFilter: ['data-points'] });
  let before = 0;
  const frame = (now: number): void => {
    if (before > 0) seen.frames.push(now - before);
    before = now;
    requestAnimationFrame(frame);
  };
  requestAnimationFrame(frame);
};

async function looking(page: Page, address: string): Promise<void> {
  const [opened, worked]: [number[], number[]] = [[], []];
  const session = await page.context().newCDPSession(page);
  await session.send('Performance.enable');
  for (let i = 0; i < 5; i++) {
    await page.goto('about:blank');
    await page.goto(`${address}/history/?run=1`);
    while ((await page.evaluate<number>('seen.drawn')) === 0) await new Promise((resolve) => setTimeout(resolve, 20));
    opened.push(await page.evaluate<number>('seen.drawn'));
    const { metrics } = await session.send('Performance.getMetrics');
    worked.push(1000 * (metrics.find(({ name }) => name === 'TaskDuration')?.value ?? Number.NaN));
  }
  say('page: from the address to the first drawing, median of 5', middle(opened), 'ms');
  say('  of it tasks of the page itself', middle(worked), 'ms');
  const [nearer] = [page.getByRole('button', { name: 'Nearer' })];
  for (const [what, presses] of [['the whole day', 0], ['1/8 of it', 3], ['some 20 s of it', 9]] as const) {
    for (let i = 0; i < presses; i++) await nearer.click();
    const box = await page.locator('.chart .u-over').boundingBox();
    const [x, y] = [(box?.x ?? 0) + (box?.width ?? 0) / 2, (box?.y ?? 0) + (box?.height ?? 0) / 2];
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.evaluate('seen.frames.length = 0');
    for (let i = 0; i < 120; i++) await page.mouse.move(x + 200 * Math.sin(i / 10), y);
    const frames = await page.evaluate<number[]>('seen.frames');
    await page.mouse.up();
    say(`page: pulled along ${what}, frame, median`, middle(frames), 'ms');
    say('  19 of 20 frames are shorter than', middle(frames, 0.95), 'ms');
  }
}

try {
  const { store } = openStore(path, { software: 'bench' });
  recordDay(store);
  answering(store);
  const pages = join(folder, 'pages');
  await build({ configFile: join(process.cwd(), '.config', 'vite.config.ts'), logLevel: 'error', build: { outDir: pages } });
  const history = storeHistory({ store: path, software: 'bench' });
  const desk = new JobDesk(
    { name: bench, records: store, openRun: null, running: false, jobChanged: () => undefined, runsChanged: () => undefined },
    documentMaker({ store: path, software: 'bench', shop: { name: null, address: [], logo: null, paper: 'A4', zone: 'UTC' } }),
  );
  const server = await HttpServer.start({
    benches: [new ScriptedFeed(bench)], pages,
    routes: (app) => {
      operatorRoutes(app, [desk]);
      historyRoutes(app, [{ bench, history }]);
    },
  });
  const browser = await chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
  });
  const page = await browser.newPage({ viewport: { width: 1280, height: 900 } });
  await page.addInitScript(watchFrames);
  await looking(page, server.address);
  await browser.close();
  await server.close();
  await history.close();
  store.close();
} finally {
  rmSync(folder, { recursive: true, force: true });
}

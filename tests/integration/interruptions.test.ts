import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Browser } from 'playwright-core';
import { testPlan, testPlaylist } from '../../simulators/player.js';
import { run as runOf, type ScenarioRun } from '../../simulators/run-scenario.js';
import { build, eventually } from './command-line.js';
import { LivePage, openBrowser } from './live-page.js';
import { SerialBench } from './serial-bench.js';
import { unhurried } from './unhurried.js';

let browser: Browser;
let good: ScenarioRun;
beforeAll(async () => {
  build();
  browser = await openBrowser();
  const [pass] = testPlaylist;
  if (pass === undefined) throw new Error('there is no run to play');
  // A hold long enough that something can happen in it, however busy the machine is.
  const calm = unhurried(pass);
  good = runOf({ ...pass, build: (random) => ({ ...calm.build(random), plan: { ...testPlan, holdTime: '12 s' } }) }, 1);
});
afterAll(async () => {
  await browser.close();
});

const benchFor = async (name: string, work: (bench: SerialBench) => Promise<void>) => {
  const bench = await SerialBench.make(name, good);
  try {
    await bench.start();
    await work(bench);
  } finally {
    await bench.clear();
  }
};

/** Samples of a second at the instrument's rate. */
const aSecond = 50;

describe('what happens on a bench every week', () => {
  // FC-29
  it.concurrent('kill -9 in the hold: at most a second is lost, the run goes on and cannot pass, the next one can', () =>
    benchFor('kill bench', async (bench) => {
      const first = bench.playRun(good);
      await bench.untilPhase('holding');
      const sent = bench.sent;
      await bench.program?.end('SIGKILL');
      const stored = bench.stored((store) => store.newestSamples(1, 100_000).time.length);
      // What a busy machine still has in the buffers of the device was never read; that all that was read is kept is the kill test's to show.
      expect(sent - stored).toBeLessThanOrEqual(5 * aSecond);
      expect(bench.stored((store) => store.getRun(1))).toMatchObject({ state: 'open', verdict: null });

      await bench.start();
      const page = await LivePage.open(browser, bench.page);
      await first;
      const [run] = await bench.untilRuns(1);
      expect(run).toMatchObject({ id: '1', verdict: 'inconclusive' });
      await page.untilVerdict('Inconclusive');
      expect(await page.history()).not.toContainEqual(expect.stringMatching(/\| Pass$/));
      bench.stored((store) => {
        expect(store.getRun(1)?.state).toBe('interrupted');
        expect(store.getRun(1)?.outcome?.events.map((event) => event.kind)).toContain('gap');
        expect(store.getRun(1)?.outcome?.findings.filter(({ rule, outcome }) => rule === 'data' && outcome === 'undecided')).toHaveLength(1);
        expect(store.traceOfRun(1).marks.map((mark) => `${mark.kind}: ${mark.text}`)).toEqual([
          expect.stringMatching(/^signal-lost: the program was not running for \d+ s$/),
          expect.stringMatching(/^signal-back: the program was not running for \d+ s$/),
        ]);
      });

      await bench.playRun(good);
      const runs = await bench.untilRuns(2);
      expect(runs.map(({ id, verdict }) => [id, verdict]), runs[0]?.reasons.join('\n')).toEqual([['2', 'pass'], ['1', 'inconclusive']]);
      expect(runs[1]?.reasons).toContainEqual(expect.stringMatching(/^No data for/));
      expect(await bench.program?.end()).toBe(0);
    }), 150_000);

  // FC-04
  it.concurrent('unplugged and plugged in again in the hold: the gap is marked, nobody need do anything, the run cannot pass', () =>
    benchFor('cable bench', async (bench) => {
      const page = await LivePage.open(browser, bench.page);
      const playing = bench.playRun(good);
      await bench.untilPhase('holding');
      await bench.unplug();
      await page.untilStale(true);
      expect((await page.now()).verdict).toBe('Not known now');
      await bench.plugIn();
      await page.untilStale(false);
      await playing;
      // The rest of the run went by while nobody could see it; the vented bench ends the run.
      await bench.playRun(good);
      const runs = await eventually('two runs', async () => {
        const listed = await bench.runs();
        return listed.length >= 2 && listed;
      });
      expect(runs.map(({ id, verdict }) => [id, verdict]), runs[0]?.reasons.join('\n')).toEqual([['2', 'pass'], ['1', 'inconclusive']]);
      expect(runs[1]?.reasons).toContainEqual(expect.stringMatching(/^No data for/));
      expect(await page.history()).toContainEqual(expect.stringMatching(/^stale \| .* \| Not known now$/));
      bench.stored((store) => {
        const run = store.getRun(1);
        expect(run?.state).toBe('finished');
        expect(run?.outcome?.events.map((event) => event.kind)).toContain('gap');
        expect(store.traceOfRun(1).marks.map(({ kind }) => kind)).toEqual(['signal-lost', 'signal-back']);
      });
      expect(await bench.program?.end('SIGINT')).toBe(0);
      expect(bench.stored((store) => store.traceWindow(1, -Infinity, Infinity).marks.at(-1)?.text)).toBe('the program was stopped');
    }), 150_000);
});

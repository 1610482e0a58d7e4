import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Browser } from 'playwright-core';
import { testPlaylist } from '../../simulators/player.js';
import { run as runOf, type ScenarioRun } from '../../simulators/run-scenario.js';
import type { Finding } from '../../src/core/outcome.js';
import { sentenceOnRunClock } from '../../src/certificate/run-clock.js';
import { build, eventually } from './command-line.js';
import { unhurried } from './unhurried.js';
import { LivePage, openBrowser } from './live-page.js';
import { SerialBench } from './serial-bench.js';

const seed = 1;
const runs = testPlaylist.map((scenario) => runOf(unhurried(scenario), seed));
const titles = { pass: 'Pass', fail: 'Fail', inconclusive: 'Inconclusive' } as const;
/** What the page may say of a run that still goes on, where it is certain. */
const early = { pass: [], fail: ['Failed', 'Cannot pass'], inconclusive: ['Cannot pass'] } as const;

let browser: Browser;
beforeAll(async () => {
  build();
  browser = await openBrowser();
});
afterAll(async () => {
  await browser.close();
});

/** Whole runs one after the other on one bench: bytes in at the serial device, verdicts out at the store and the page. */
async function playAll(name: string, played: readonly ScenarioRun[]): Promise<void> {
  const [first] = played;
  if (first === undefined) throw new Error('nothing to play');
  const bench = await SerialBench.make(name, first);
  try {
    await bench.start();
    const page = await LivePage.open(browser, bench.page);
    let plan = first.planText;
    for (const [i, run] of played.entries()) {
      if (run.planText !== plan) {
        plan = run.planText;
        bench.write('plan.yaml', plan);
        await eventually('the new plan', () => bench.program?.stderr.includes('plan or thresholds changed'));
      }
      await bench.playRun(run);
      const [summary] = await bench.untilRuns(i + 1);
      if (summary === undefined) throw new Error('the run is not listed');
      await page.untilVerdict(titles[summary.verdict]);
      await check(bench, page, run, i + 1);
    }
    expect(await bench.program?.end()).toBe(0);
  } finally {
    await bench.clear();
  }
}

async function check(bench: SerialBench, page: LivePage, run: ScenarioRun, number: number): Promise<void> {
  const { name, intends } = run.scenario;
  if (intends === null) throw new Error(`${name} has no verdict to hold it against`);
  const stored = bench.stored((store) => store.getRun(number));
  const unmet = (stored?.outcome?.findings ?? []).filter((finding) => finding.outcome !== 'met').map((finding) => finding.sentence);
  expect([name, stored?.verdict, stored?.state], unmet.join('\n')).toEqual([name, intends.verdict, 'finished']);
  const findings: readonly Finding[] = stored?.outcome?.findings ?? [];
  const decided = findings.filter((finding) => finding.outcome === (intends.verdict === 'fail' ? 'broken' : 'undecided'));
  if (intends.rule === null) expect(findings.filter((finding) => finding.outcome !== 'met')).toEqual([]);
  else expect([name, decided.map((finding) => finding.rule)]).toEqual([name, expect.arrayContaining([intends.rule])]);
  expect(stored?.outcome?.cycles).toHaveLength(run.plan.cycles);

  const shown = await page.now();
  expect(shown).toMatchObject({ stale: false, verdict: titles[intends.verdict] });
  if (intends.rule !== null) {
    // The page may show another unit or the same sentence in its own words; the first sentence of the record is there.
    expect(shown.lines.length).toBeGreaterThan(0);
    expect(shown.lines[0]).toBe(sentenceOnRunClock(decided[0]?.sentence ?? '', stored?.from ?? NaN, stored?.to ?? NaN));
  }
  const listed = await eventually(`${name} in the list of the page`, async () => {
    const items = await page.runs();
    return items.length >= Math.min(number, 20) && items;
  });
  expect(listed[0]).toContain(titles[intends.verdict]);

  // While the run went on nobody could read a verdict, and least of all a good one; only what was certain already.
  const history = await page.history();
  const pending = history.findIndex((line) => line.endsWith('| Pending'));
  const words = ['Pending', titles[intends.verdict], ...early[intends.verdict]];
  expect(history.slice(pending).filter((line) => !words.some((word) => line.endsWith(`| ${word}`)))).toEqual([]);
  expect(history.some((line) => /holding/i.test(line))).toBe(findings.every((finding) => finding.rule !== 'reach' || finding.outcome === 'met'));
}

describe('whole runs as bytes over a serial device', () => {
  it('plays every kind of run', () => {
    expect(runs.map((run) => run.scenario.name)).toEqual([
      'live-pass', 'live-drop', 'live-burst', 'live-vent-early', 'live-never-reached', 'live-top-up', 'live-over-ceiling', 'live-three-cycles',
    ]);
    expect(runs.map((run) => run.truth.verdict)).toEqual(runs.map((run) => run.scenario.intends?.verdict));
  });

  // Two benches at once, each with its own program, device and page: also a test that they do not disturb each other.
  it.concurrent('north bench: pass, drop, burst, vented early, never reached', async () => {
    await playAll('north bench', runs.slice(0, 5));
  }, 400_000);

  it.concurrent('south bench: top-up, over the ceiling, three cycles under another plan', async () => {
    await playAll('south bench', runs.slice(5));
  }, 400_000);
});

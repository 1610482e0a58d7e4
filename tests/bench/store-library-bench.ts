/**
 * A library of many runs, searched and opened: `npm run bench -- store-library`. `RUNS=20000` for a smaller one.
 */
import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { standardThresholds } from '../../src/core/thresholds.js';
import type { Outcome } from '../../src/core/outcome.js';
import { openStore, type RunChoice, type Store } from '../../src/records/store.js';
import { processorTime, median, say } from './measure.js';

const runs = Number(process.env['RUNS'] ?? 100_000);
const begun = Date.UTC(2024, 0, 8, 7);
/** s between two runs, and of each. */
const [every, length] = [600, 90];
const hoses = ['two-wire DN12', 'four-spiral DN25', 'one-wire DN8', 'textile DN19', 'six-spiral DN32'];
const verdicts = ['pass', 'pass', 'pass', 'pass', 'fail', 'inconclusive'] as const;

const outcomeOf = (verdict: Outcome['verdict']): Outcome => ({
  verdict,
  findings: (['reach', 'ceiling', 'hold', 'minimum', 'drop', 'leak', 'burst', 'cycles', 'data'] as const).map((rule) => ({
    rule, outcome: verdict === 'pass' || rule !== 'drop' ? 'met' : verdict === 'fail' ? 'broken' : 'undecided', measured: 548.2, limit: 530, unit: 'bar',
    uncertainty: 0.4, at: 52.5, sentence: `${rule}: 548.2 bar measured, 530 bar is the limit, as the plan says`,
  })),
  cycles: [], events: [], notes: [], plan: 'two-wire DN12 proof', thresholds: 'standard',
  signal: { samples: 9000, interval: 0.01, resolution: 0.01, noise: 0.02, missing: 0, duplicates: 0, backward: 0 },
});

/**
 * Every hundredth run with its trace, 100 Hz; those are opened. Only these are sealed one by one as a daemon does: the
 * others are copies of them with a job of their own, found and listed like any other.
 */
function fill(store: Store): void {
  const channel = store.channel('bench 1', 'pressure', 'bar').id;
  const plan = store.keepVersion('plan', { plan: 'two-wire DN12 proof', testPressure: 550 });
  const thresholds = store.keepVersion('thresholds', standardThresholds);
  const writer = store.beginSegment(channel, { time: 0, wall: begun });
  const open = store.db.prepare(
    `INSERT INTO runs (number, bench, channel, state, started, started_wall, plan, thresholds, instrument, software) VALUES (?, 'bench 1', ?, 'open', ?, ?, ?, ?, '{}', 'bench')`,
  );
  const close = store.db.prepare("UPDATE runs SET state = 'finished', verdict = ?, outcome = ?, ended = ?, ended_wall = ? WHERE number = ?");
  const said = store.db.prepare("INSERT INTO entries (run, kind, wall, who, content) VALUES (?, 'job', ?, 'desk', ?)");
  const piece = 1000;
  for (let first = 0; first < runs; first += piece) {
    store.db.transaction(() => {
      for (let i = first; i < Math.min(runs, first + piece); i++) {
        const from = i * every;
        const verdict = verdicts[i % verdicts.length] ?? 'pass';
        const [number, to] = [i + 1, from + length - 0.01];
        const job = {
          kind: 'job' as const, order: `A-${10_000 + Math.floor(i / 4)}`, hose: `${hoses[i % hoses.length]} with ${i % 7} m`, assemblies: [`H-${i * 2}`, `H-${i * 2 + 1}`],
          operator: ['J. Doe', 'M. Roe', 'S. Poe'][i % 3] ?? '',
        };
        if (i % 100 === 0) {
          for (let k = 0; k < length * 100; k++) writer.append(from + k / 100, 550 + ((k * 37) % 11) / 100, 0);
          store.openRun({ channel, from, plan, thresholds, instrument: { resolution: 0.01, identity: 'PT-7, certificate 2026-014' } });
          store.finishRun(number, { to, outcome: outcomeOf(verdict) });
          store.addEntry(number, job, 'desk');
          continue;
        }
        open.run(number, channel, from, begun + from * 1000, plan, thresholds);
        close.run(verdict, JSON.stringify(outcomeOf(verdict)), to, begun + to * 1000, number);
        said.run(number, begun + to * 1000, JSON.stringify(job));
        store.search.index(number);
      }
    })();
  }
  store.flush();
}

const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-library-'));
try {
  const path = join(folder, 'records.sqlite');
  let wall = begun;
  const { store } = openStore(path, { software: 'bench', now: () => (wall += 1000) });
  const [, took] = processorTime(() => fill(store));
  say(`${runs.toLocaleString('en')} runs with their jobs: each`, took / runs, 'ms CPU');
  store.close();
  say('  file', statSync(path).size / runs, 'B/run');
  const { store: reader } = openStore(path, { software: 'bench', readOnly: true });
  const middle = Math.floor(runs / 2 / 100) * 100;
  const day = { from: begun + middle * every * 1000, to: begun + (middle * every + 86_400) * 1000 };
  const searches: [string, RunChoice][] = [
    ['the newest 50', {}],
    ['an order', { order: `A-${10_000 + middle / 4}` }],
    ['the beginning of an order, which most have', { order: 'A-1' }],
    ['an assembly', { serial: `H-${middle * 2}` }],
    ['a hose', { hose: 'six-spiral' }],
    ['a verdict', { verdict: 'fail' }],
    ['a day', day],
    ['a verdict of a day', { ...day, verdict: 'inconclusive' }],
    ['free text: two words', { text: 'roe textile' }],
    ['free text that none has', { text: 'nowhere' }],
    ['hose, verdict and a month', { hose: 'DN25', verdict: 'fail', from: day.from, to: day.to + 29 * 86_400_000 }],
  ];
  for (const [what, choice] of searches) {
    const found = reader.searchRuns({ limit: 50, ...choice });
    say(`  ${what} (${found.length} shown)`, median(() => reader.searchRuns({ limit: 50, ...choice })), 'ms CPU');
  }
  let next = 0;
  const opened = (): number => {
    const number = 1 + 100 * ((next += 37) % Math.floor(runs / 100));
    const run = reader.getRun(number);
    return reader.entriesOf(number).length + reader.eventsOf(number).length + reader.envelope(1, run?.from ?? 0, run?.to ?? 0, 2000).first.length;
  };
  say('  opening one: record, entries, trace of 9,000 samples as 2,000 columns', median(opened, 21), 'ms CPU');
  reader.close();
  say('  opening the store for writing', processorTime(() => openStore(path, { software: 'bench' }).store.close())[1], 'ms CPU');
} finally {
  rmSync(folder, { recursive: true, force: true });
}

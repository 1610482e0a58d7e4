import { describe, expect, it } from 'vitest';
import type { RunSummary } from '../../src/server/bench-feed.js';
import { BenchCounts } from '../../src/watch/bench-counts.js';

const sample = (channel: string, time: number, fault?: 'malformed') => ({ kind: 'sample', channel, time, pressure: 1, flags: fault === undefined ? 0 : 1, raw: '1', value: 1, ...(fault && { fault }) }) as const;

describe('counts of a bench', () => {
  it('are of each channel, and what a link says is of all that it carries', () => {
    let now = 0;
    const counts = new BenchCounts([{ channel: 'wide', link: 'box' }, { channel: 'fine', link: 'box' }, { channel: 'other', link: 'port' }], () => now);
    counts.heard({ kind: 'state', time: 0, state: 'live', text: 'x', link: 'box' });
    for (const time of [1, 2, 3]) counts.heard(sample('wide', time));
    counts.heard(sample('fine', 1, 'malformed'));
    counts.heard({ kind: 'notice', time: 1, code: 'opened', text: 'x', link: 'box' });
    now = 4;
    expect(counts.channels().map(({ channel, state, age, link }) => [channel, state, age, link.samples, link.good, link.faults, link.notices])).toEqual([
      ['wide', 'live', 4, 3, 3, {}, { opened: 1 }],
      ['fine', 'live', 4, 1, 0, { malformed: 1 }, { opened: 1 }],
      ['other', 'connecting', null, 0, 0, {}, {}],
    ]);
  });

  it('count a run once, also where it waited for the store', () => {
    const counts = new BenchCounts([]);
    const run = (id: string, from: number): RunSummary => ({ id, session: 's', from, to: from, wall: 0, verdict: 'fail', plan: null, reasons: [], peak: null, holds: [], events: [], visual: null });
    for (const told of [run('waiting-1', 5), run('12', 5), run('13', 90)]) counts.runEnded(told);
    expect(counts.runs).toEqual({ pass: 0, fail: 2, inconclusive: 0 });
  });
});

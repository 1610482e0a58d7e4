import { parsePlan } from '../../src/core/plan.js';
import type { ReaderSetup } from '../../src/core/run-reader.js';
import { parseThresholds } from '../../src/core/thresholds.js';
import { Flag, type Mark, type Sample } from '../../src/core/trace.js';
import type { TraceEntry } from '../../src/operators/run-news.js';

/** A short proof: 550 bar held for 3 s, read with thresholds for a quick hand. */
export const setup: ReaderSetup = {
  plan: parsePlan({ plan: 'short proof', testPressure: '550 bar', holdTime: '3 s', minimumPressure: '530 bar', ceilingPressure: '600 bar' }, 'plan'),
  thresholds: parseThresholds({ quietTime: '1 s', settleWindow: '2 s', settleTimeout: '10 s', runEnd: '2 s' }, 'thresholds'),
};

/** A small generator of equally likely numbers in 0..1, the same ones each time (Park and Miller 1988, multiplier 48271). */
function sequence(seed: number): () => number {
  let state = seed;
  return () => (state = (state * 48271) % 2147483647) / 2147483647;
}

const corners = {
  good: [[0, 2], [1, 2], [560, 12], [552, 14], [551, 24], [550.8, 26], [0, 27], [0, 33]],
  dropping: [[0, 2], [1, 2], [560, 12], [552, 14], [549, 19], [500, 20], [498, 23], [0, 24], [0, 30]],
} as const;

/** 50 Hz: two runs one after the other, the first one good, with noise of 0.05 bar, one glitch, one spike, one unreadable sample. */
export function twoRuns(): Sample[] {
  const random = sequence(20);
  const samples: Sample[] = [];
  let began = 0;
  for (const shape of [corners.good, corners.dropping]) {
    let [pressure, at]: readonly [number, number] = [0, 0];
    for (const [target, until] of shape) {
      for (; at < until; at += 0.02) {
        const left = until - at;
        const share = left > 0.02 ? 0.02 / left : 1;
        pressure += (target - pressure) * share;
        samples.push({ time: Math.round((began + at) * 1000) / 1000, pressure: Math.round((pressure + (random() - 0.5) / 10) * 100) / 100, flags: Flag.good });
      }
    }
    began += at;
  }
  const change = (i: number, other: Partial<Sample>) => {
    const sample = samples[i];
    if (sample !== undefined) samples[i] = { ...sample, ...other };
  };
  change(620, { pressure: 940 });
  change(900, { pressure: NaN, flags: Flag.unreadable });
  for (const i of [400, 401, 402]) change(i, { pressure: (samples[i]?.pressure ?? 0) + 25 });
  return samples;
}

/** The marks of the same bench, by time. */
export const marks: readonly Mark[] = [
  { time: 1.5, kind: 'lid-closed' },
  { time: 41.01, kind: 'clock-step', text: 'the clock of the computer was set by 60 s' },
];

/** Samples and marks as they would have come in: by time, a mark before a sample of the same moment. */
export function entriesOf(samples: readonly Sample[], marks: readonly Mark[]): TraceEntry[] {
  return [...marks, ...samples].sort((a, b) => a.time - b.time);
}

import type { CycleRecord } from './cycle-record.js';

/** A cycle record with all its times moved by `origin` (s), from the reader's clock to the trace's own. */
export function moveRecord(r: CycleRecord, origin: number): CycleRecord {
  const t = (value: number | null) => (value === null ? null : Number((value + origin).toFixed(6)));
  const at = (value: number) => Number((value + origin).toFixed(6));
  return {
    ...r,
    rising: t(r.rising),
    reached: t(r.reached),
    settled: t(r.settled),
    settledBelow: r.settledBelow && { ...r.settledBelow, at: at(r.settledBelow.at) },
    holdEnd: t(r.holdEnd),
    vented: t(r.vented),
    endedAt: t(r.endedAt),
    peakAt: t(r.peakAt),
    doubtPeakAt: t(r.doubtPeakAt),
    holdMinimumAt: t(r.holdMinimumAt),
    breachAt: t(r.breachAt),
    topUps: r.topUps.map((x) => ({ ...x, at: at(x.at) })),
    lastPumping: t(r.lastPumping),
    stepBack: r.stepBack && { ...r.stepBack, at: at(r.stepBack.at) },
    steepest: r.steepest && { ...r.steepest, at: at(r.steepest.at) },
    burst: r.burst && { ...r.burst, at: at(r.burst.at) },
    gaps: r.gaps.map((g) => ({ ...g, from: at(g.from), to: at(g.to) })),
    lostInGap: r.lostInGap && { ...r.lostInGap, at: at(r.lostInGap.at) },
    still: r.still && { ...r.still, from: at(r.still.from), to: at(r.still.to) },
    saturatedAt: t(r.saturatedAt),
    lidOpenAt: t(r.lidOpenAt),
    failedAfter: r.failedAfter && { ...r.failedAfter, at: at(r.failedAfter.at) },
    // The fit keeps the reader's small times: a large origin would cost it digits.
  };
}

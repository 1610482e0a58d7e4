/** Above this, ms, the wall clock has run ahead because the machine slept, not because it was trimmed. */
const slept = 1000;

/** A clock in ms that never runs backward and counts on while the machine sleeps, which `performance.now` does not do everywhere. */
export function sleepProofClock(monotonic: () => number, wall: () => number): () => number {
  let ahead = 0;
  let apart = wall() - monotonic();
  return () => {
    const now = monotonic();
    const since = wall() - now - apart;
    if (since > slept) ahead += since;
    // A wall clock that was set back is followed without moving this one.
    if (Math.abs(since) > slept) apart += since;
    return now + ahead;
  };
}

/** The page's own clock, ms. */
export const pageClock = sleepProofClock(
  () => performance.now(),
  () => Date.now(),
);

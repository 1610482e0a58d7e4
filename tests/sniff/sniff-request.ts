import { systemClock } from '../../drivers/clock.js';
import { realWiring } from '../../drivers/real-wiring.js';
import type { Wiring } from '../../drivers/wiring.js';
import { runSniff, type SniffRequest, type SniffResult } from '../../src/sniff/run-sniff.js';

/** What a person would ask for by default, quicker. */
export const request = (more: Partial<SniffRequest> & Pick<SniffRequest, 'target'>): SniffRequest => ({
  how: 'lines', rtuOverTcp: false, known: {}, wanted: {}, each: 0.5, limit: 60,
  unitIds: [1, 2, 3], ranges: [{ from: 0, to: 31 }], rounds: 4, every: 0.05, answerWithin: 0.3, ...more,
});

export const sniffed = (more: Partial<SniffRequest> & Pick<SniffRequest, 'target'>, wiring: Wiring = realWiring, signal = new AbortController().signal): Promise<SniffResult> =>
  runSniff(request(more), wiring, systemClock, signal, () => {});

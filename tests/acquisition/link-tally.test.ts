import { describe, expect, it } from 'vitest';
import { LinkTally } from '../../src/acquisition/link-tally.js';
import { benchLink } from './bench-link.js';

describe('what is counted', () => {
  it('everything that came, by what it was', () => {
    const link = benchLink({}, { firstLine: 'drop' });
    for (const line of ['0.2', '350.1', '+OL', 'OL', 'ERR', '9999', 'x', '350.2']) {
      link.clock.pass(0.1);
      link.wiring.receive(`${line}\r\n`);
    }
    link.wiring.receive('350.');
    link.wiring.lose();
    const tally = new LinkTally();
    link.acquired.forEach((item) => tally.hear(item));
    expect(tally.counts()).toMatchObject({
      samples: 7,
      good: 2,
      faults: { 'over-range': 2, 'error-word': 1, implausible: 1, malformed: 1 },
      dropped: { 'first-line': 1, 'cut-off': 1 },
      notices: { opened: 1 },
      signalLost: 1,
      interval: null,
    });
  });

  // FC-11: https://github.com/Fazecast/jSerialComm/pull/369
  it('FC-11: the interval is that of the instrument, and the bunching of an adapter shows as deviation', () => {
    const [even, bunched] = [1, 16].map((grid) => {
      const link = benchLink();
      const tally = new LinkTally();
      for (let k = 1; k <= 64; k++) {
        link.clock.to((Math.ceil((5 * k) / grid - 1e-9) * grid) / 1000);
        link.wiring.receive('350.0\r\n');
      }
      link.acquired.forEach((item) => tally.hear(item));
      return tally.counts();
    });
    expect(even?.interval).toBeCloseTo(0.005, 9);
    expect(even?.intervalDeviation).toBeCloseTo(0, 9);
    expect(bunched?.interval).toBeCloseTo(0.005, 3);
    expect(bunched?.intervalDeviation).toBeGreaterThan(0.006);
  });
});

import { acquire, type Acquired } from '../../src/acquisition/acquire.js';
import { channelSchema } from '../../src/acquisition/channel-config.js';
import { FakeWiring } from '../drivers/fake-wiring.js';
import { VirtualClock } from '../drivers/virtual-clock.js';

/** A channel on a wire that a test holds in its hand, with everything that it delivered. */
export function benchLink(channel: Readonly<Record<string, unknown>> = {}, input: Readonly<Record<string, unknown>> = {}, wiring = new FakeWiring()) {
  const clock = new VirtualClock();
  const config = channelSchema.parse({
    input: { driver: 'serial-line', path: '/dev/ttyBENCH', firstLine: 'keep', ...input },
    unit: 'bar',
    range: { upper: '1000 bar' },
    ...channel,
  });
  const acquired: Acquired[] = [];
  const ends: string[] = [];
  const subscription = acquire(config, wiring, clock).subscribe({
    next: (item) => acquired.push(item),
    error: (error) => ends.push(String(error)),
    complete: () => ends.push('complete'),
  });
  return {
    clock,
    wiring,
    acquired,
    subscription,
    ends,
    samples: () => acquired.filter((item) => item.kind === 'sample'),
    good: () => acquired.flatMap((item) => (item.kind === 'sample' && item.flags === 0 ? [item.pressure] : [])),
    marks: () => acquired.flatMap((item) => (item.kind === 'mark' ? [`${item.mark.kind} ${item.mark.time.toFixed(1)}`] : [])),
    states: () => acquired.flatMap((item) => (item.kind === 'state' ? [item.state] : [])),
    /** A line each `interval` s until `end`. */
    stream(end: number, line: string | ((time: number) => string) = '350.0', interval = 0.1) {
      while (clock.now() + interval <= end + 1e-9) {
        clock.pass(interval);
        wiring.receive(`${typeof line === 'string' ? line : line(clock.now())}\r\n`);
      }
    },
  };
}

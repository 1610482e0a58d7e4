import type { Received } from '../../drivers/driver.js';
import { inputSchema, sourceOf } from '../../drivers/index.js';
import { FakeWiring } from './fake-wiring.js';
import { VirtualClock } from './virtual-clock.js';

/** One opening of a driver, with everything that it said. */
export function listen(input: Readonly<Record<string, unknown>> = {}, wiring = new FakeWiring()) {
  const clock = new VirtualClock();
  const items: Received[] = [];
  let error: unknown;
  const options = inputSchema.parse({ driver: 'serial-line', path: '/dev/ttyBENCH', firstLine: 'keep', ...input });
  const subscription = sourceOf(options)
    .read(wiring, clock)
    .subscribe({ next: (item) => items.push(item), error: (e: unknown) => (error = e) });
  return {
    clock,
    wiring,
    items,
    subscription,
    error: () => error,
    values: () => items.flatMap((item) => (item.kind === 'reading' ? [item.value] : [])),
    faults: () => items.flatMap((item) => (item.kind === 'fault' ? [item.fault] : [])),
    notices: () => items.flatMap((item) => (item.kind === 'notice' && item.code !== 'opened' ? [item.code] : [])),
    dropped: () => items.flatMap((item) => (item.kind === 'dropped' ? [`${item.why}: ${item.raw}`] : [])),
    lines: (...lines: string[]) => lines.forEach((line) => wiring.receive(`${line}\r\n`)),
  };
}

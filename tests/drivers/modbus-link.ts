import type { Received } from '../../drivers/driver.js';
import { inputSchema, sourceOf } from '../../drivers/index.js';
import { withCrc } from '../../drivers/modbus-rtu-framing.js';
import { FakeWiring } from './fake-wiring.js';
import { VirtualClock } from './virtual-clock.js';

export const bytesOf = (hex: string): Buffer => Buffer.from(hex.replaceAll(/\s/g, ''), 'hex');
/** @param text one character for each byte */
export const hexOf = (text: string): string => spaced(Buffer.from(text, 'latin1').toString('hex'));
const spaced = (hex: string): string => (hex.toUpperCase().match(/../g) ?? []).join(' ');

/** An RTU frame: the bytes with their checksum, for frames that no publication prints. */
export const rtu = (hex: string): Uint8Array => withCrc(bytesOf(hex));

/** One pressure as float32 in the first two holding registers. */
export const onePressure = [{ address: 0, type: 'float32' }];

/** One opening of a Modbus driver, asked and answered in hex. */
export function modbusLink(input: Readonly<Record<string, unknown>> = {}, wiring = new FakeWiring()) {
  const clock = new VirtualClock();
  const items: Received[] = [];
  let error: unknown;
  const where = input['driver'] === 'modbus-tcp' ? { host: '192.0.2.7' } : { path: '/dev/ttyBENCH' };
  const options = inputSchema.parse({ driver: 'modbus-rtu', ...where, addressBase: 0, every: '1 s', values: onePressure, ...input });
  const subscription = sourceOf(options)
    .read(wiring, clock)
    .subscribe({ next: (item) => items.push(item), error: (e: unknown) => (error = e) });
  clock.pass(0);
  return {
    clock,
    wiring,
    items,
    subscription,
    error: () => error,
    /** Frames sent, in hex. */
    sent: () => wiring.sent.map((frame) => hexOf(frame)),
    receive: (hex: string) => wiring.receive(bytesOf(hex)),
    readings: () => items.flatMap((item) => (item.kind === 'reading' ? [`${item.channel} ${item.value}`] : [])),
    values: () => items.flatMap((item) => (item.kind === 'reading' ? [item.value] : [])),
    faults: () => items.flatMap((item) => (item.kind === 'fault' ? [`${item.channel} ${item.fault}`] : [])),
    dropped: () => items.flatMap((item) => (item.kind === 'dropped' ? [`${item.why} ${spaced(item.raw)}`] : [])),
    notices: () => items.flatMap((item) => (item.kind === 'notice' && item.code !== 'opened' ? [item] : [])),
  };
}

import { isIP } from 'node:net';

/** The machine behind an address, as limits count it: IPv4 however it is written, and of IPv6 the network part, as one machine has all the rest of it. */
export function machineOf(address: string): string {
  const bare = address.replace(/^::ffff:(?=\d+\.)/i, '').replace(/%.*$/, '');
  if (isIP(bare) !== 6) return bare;
  const [head = '', tail] = bare.split('::');
  const left = head === '' ? [] : head.split(':');
  const right = tail === undefined || tail === '' ? [] : tail.split(':');
  const zeros = tail === undefined ? [] : Array.from({ length: Math.max(0, 8 - left.length - right.length) }, () => '0');
  return `${[...left, ...zeros, ...right].slice(0, 4).map((part) => part.toLowerCase().replace(/^0+(?=.)/, '')).join(':')}::/64`;
}

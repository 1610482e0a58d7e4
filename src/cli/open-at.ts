import { isIPv4 } from 'node:net';
import { networkInterfaces } from 'node:os';

/** Addresses that are told, at most. */
const most = 3;

/**
 * Where a browser finds the page: the address that is served, or, where that stands for every address of this computer,
 * the names that the bench file gives it, else its addresses in the network.
 */
export function openAt(served: string, names: readonly string[]): string[] {
  const url = new URL(served);
  if (url.hostname !== '0.0.0.0' && url.hostname !== '[::]') return [served];
  const hosts = names.length > 0 ? names : inTheNetwork();
  return (hosts.length > 0 ? hosts : ['localhost']).slice(0, most).map((host) => `${url.protocol}//${host}:${url.port}`);
}

const inTheNetwork = (): string[] =>
  Object.values(networkInterfaces()).flatMap((all) => (all ?? []).filter(({ internal, address }) => !internal && isIPv4(address)).map(({ address }) => address));

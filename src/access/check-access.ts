import { isIP } from 'node:net';
import { networkInterfaces } from 'node:os';
import type { Problem } from '../core/problems.js';
import { bareAddress, isOwnOnly, type PageSettings } from './page-settings.js';

/** Addresses that this computer has at this moment. */
export const ownAddresses = (): string[] => Object.values(networkInterfaces()).flatMap((all) => (all ?? []).map(({ address }) => address));

/** What is wrong with where the pages should be served. @param place of the section, `page` */
export function pageProblems({ address }: PageSettings, hasPeople: boolean, place = 'page'): Problem[] {
  const at = place === '' ? 'address' : `${place}.address`;
  if (isOwnOnly(address)) return [];
  const bare = bareAddress(address);
  if (!hasPeople) return [{ place: at, text: `'${address}' can be reached from other machines, and that needs people to be set up first ('dwellkeeper people add NAME --role engineer', then 'people: people.yaml' in the bench file); leave it out or write 127.0.0.1` }];
  if (isIP(bare) === 0) return [{ place: at, text: `'${address}' should be an address in numbers, for example 0.0.0.0 for every address of this computer; names go under 'names'` }];
  return [];
}

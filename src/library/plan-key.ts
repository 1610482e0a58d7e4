import { inputError } from '../core/problems.js';

const longest = 80;

/**
 * Name of the file of a plan, from the plan's own name: `ISO 1436 2SN DN 12.5 proof` gives `iso-1436-2sn-dn-12.5-proof`.
 * Nothing in it can lead out of the folder, whatever the name says.
 * @throws InputError where no letter or digit is left
 */
export function keyFor(name: string): string {
  const key = name
    .normalize('NFC')
    .toLowerCase()
    .replaceAll(/[^\p{L}\p{N}.]+/gu, '-')
    .replaceAll(/\.{2,}/g, '.')
    .slice(0, longest)
    .replaceAll(/^[-.]+|[-.]+$/g, '');
  if (key === '') throw inputError('plan', 'plan', `'${name}' has neither a letter nor a digit; a name such as 'two-wire DN12 proof' is needed`);
  return key;
}

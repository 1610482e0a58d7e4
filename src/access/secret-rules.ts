import type { Role } from './roles.js';

/** Longest secret, characters: more is nothing that a person types. */
export const longestSecret = 200;
const leastDigits = 6;
const leastLetters = 8;
const leastOfEngineer = 12;

/**
 * What is wrong with a secret that somebody chose; `null` where nothing is.
 *
 * A PIN can be typed with wet gloves on and is enough at the bench: of a million PINs the delay after wrong ones lets some
 * 300 a day be tried (`attempt-brake.ts`). Whoever may change what passes needs a pass phrase. Length counts and nothing
 * else is asked for (after NIST SP 800-63B 5.1.1), save what a guesser tries first.
 */
export function secretProblem(secret: string, name: string, role: Role): string | null {
  const text = secret.normalize('NFKC').trim();
  const length = [...text].length;
  if (/\p{Cc}/u.test(text)) return 'should be one line without control characters';
  if (length > longestSecret) return `should have at most ${longestSecret} characters`;
  if (text.toLowerCase() === name.normalize('NFKC').trim().toLowerCase()) return 'should not be the name itself';
  if (role === 'engineer') {
    if (/^\d*$/.test(text)) return `should be a pass phrase of at least ${leastOfEngineer} characters and not of digits alone: an engineer may change what passes`;
    if (length < leastOfEngineer) return `should have at least ${leastOfEngineer} characters: an engineer may change what passes`;
  } else if (/^\d+$/.test(text)) {
    if (length < leastDigits) return `should be a PIN of at least ${leastDigits} digits`;
  } else if (length < leastLetters) return `should be a PIN of at least ${leastDigits} digits or a pass phrase of at least ${leastLetters} characters`;
  return guessedFirst(text) ? 'is what a guesser tries first (all signs alike, or a run such as 123456); choose another' : null;
}

/** All signs alike, or each one step from the one before it. */
function guessedFirst(text: string): boolean {
  const codes = [...text].map((sign) => sign.codePointAt(0) ?? 0);
  const steps = new Set(codes.slice(1).map((code, i) => code - (codes[i] ?? 0)));
  const [step] = steps;
  return steps.size === 1 && step !== undefined && Math.abs(step) <= 1;
}

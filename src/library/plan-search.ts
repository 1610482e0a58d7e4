import { nearest } from '../core/problems.js';
import { bareOf, plain, pressurePattern, pressuresIn, sizeOfDn, sizesIn, wordsOf, type PlanFacts } from './plan-facts.js';

/** Relative difference up to which two pressures are the same to a person who searches: 4000 psi and 280 bar are. */
const samePressure = 0.02;

/** One thing that a search asks for. */
type Wish =
  | { readonly is: 'pressure'; /** bar */ readonly bar: number }
  | { readonly is: 'size'; /** dash number */ readonly dash: number }
  | { readonly is: 'number'; readonly text: string; readonly value: number }
  | { readonly is: 'word'; readonly text: string };

const sizeWords = /\bdn\s*\d+(?:[.,]\d)?|(?<![\d/.])(?:\d+[\s-])?\d+\/\d+\s*(?:"|''|inch|in\b)?|(?<![\d/])\d\s*(?:"|''|inch)|(?<=^|[\s(a-z0-9])-\d{1,2}(?![\d.,/a-z-])/gi;

/** What is searched for, from what somebody typed: `2SN 12`, `DN12`, `280 bar`, `4000 psi`, any words. */
export function wishesIn(query: string): Wish[] {
  const wishes: Wish[] = [];
  const text = plain(query)
    .replaceAll(pressurePattern, (found) => {
      for (const bar of pressuresIn(found)) wishes.push({ is: 'pressure', bar });
      return ' ';
    })
    .replaceAll(sizeWords, (found) => {
      const sizes = sizesIn(` ${found}`);
      for (const dash of sizes) wishes.push({ is: 'size', dash });
      return sizes.length > 0 ? ' ' : found;
    });
  for (const word of wordsOf(text)) {
    const value = Number(word.replace(',', '.'));
    wishes.push(Number.isFinite(value) ? { is: 'number', text: word, value } : { is: 'word', text: word });
  }
  return wishes;
}

/** How well a plan fits a wish: 0 not at all, 1 only by a remark or with a letter wrong, 2 by its name or what it speaks of, 3 exactly. */
function fit(wish: Wish, facts: PlanFacts): 0 | 1 | 2 | 3 {
  switch (wish.is) {
    case 'pressure':
      return pressureFit(wish.bar, facts);
    case 'size':
      return facts.sizes.includes(wish.dash) ? 3 : 0;
    case 'number':
      if (facts.sizes.includes(sizeOfDn(wish.value) ?? -1)) return 3;
      if (facts.words.some((word) => word.startsWith(wish.text))) return 2;
      return wish.value >= 20 ? pressureFit(wish.value, facts, 0) : 0;
    case 'word':
      if (facts.words.includes(wish.text)) return 3;
      if (facts.words.some((word) => word.startsWith(wish.text)) || facts.bare.includes(bareOf(wish.text))) return 2;
      return facts.remarks.includes(wish.text) || nearlyOneOf(wish.text, facts.words) ? 1 : 0;
  }
}

/** Short words are too like each other for a letter to be wrong. */
const nearlyOneOf = (text: string, words: readonly string[]): boolean => text.length >= 6 && nearest(text, words.filter((word) => word.length >= 6)) !== undefined;

function pressureFit(bar: number, { pressures }: PlanFacts, within = samePressure): 0 | 2 | 3 {
  const same = (other: number): boolean => Math.abs(other - bar) <= within * Math.max(other, bar) + 1e-9;
  if (same(pressures[0] ?? NaN)) return 3;
  return pressures.some(same) ? 2 : 0;
}

/** The worst and the mean of how well a plan fits what is wished; `null` where it does not fit all of it. */
export function fitOf(wishes: readonly Wish[], facts: PlanFacts): { readonly worst: number; readonly mean: number } | null {
  const fits = wishes.map((wish) => fit(wish, facts));
  if (fits.includes(0)) return null;
  return { worst: Math.min(3, ...fits), mean: fits.reduce((sum: number, one) => sum + one, 0) / Math.max(1, fits.length) };
}

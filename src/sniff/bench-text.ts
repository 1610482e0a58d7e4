import { Document, isMap, isPair, isScalar } from 'yaml';
import { parseBench } from '../acquisition/bench-file.js';
import type { SignalUnit } from '../../drivers/signal-unit.js';
import { assumedRange } from './plausible.js';

/** What a bench file says of the one channel that was found. */
export interface FoundChannel {
  readonly input: Readonly<Record<string, unknown>>;
  readonly unit: SignalUnit;
  readonly unitKnown: boolean;
  /** bar */
  readonly range: { readonly lower: number; readonly upper: number };
  readonly rangeKnown: boolean;
  /** A remark beside a key of the channel, of its input, or of the value in it. */
  readonly remarks?: Readonly<Record<string, string>>;
}

/** A whole bench file for what was found, checked as `start` would check it; what a person must look at stands beside it. */
export function benchText({ input, unit, unitKnown, range, rangeKnown, remarks = {} }: FoundChannel): string {
  const { lower, upper } = range;
  const current = unit === 'mA' ? { scaling: { lower: { reading: 4, pressure: `${lower} bar` }, upper: { reading: 20, pressure: `${upper} bar` } } } : {};
  const bench = {
    bench: 'bench 1',
    unit: 'bar',
    channels: [{ channel: 'pressure', input, unit, ...current, range: { ...(lower !== 0 && { lower: `${lower} bar` }), upper: `${upper} bar` } }],
  };
  parseBench(bench, 'BENCH.yaml');
  const document = new Document(bench);
  document.commentBefore = ' Found by dwellkeeper sniff. Before it is trusted: compare with a gauge at two pressures, and look at every remark.';
  const said: Readonly<Record<string, string>> = {
    ...(unitKnown ? {} : { unit: 'the instrument does not name its unit: look at its label or display' }),
    ...(rangeKnown ? {} : { range: `not told${upper === assumedRange ? '' : ' and taken from what was read'}: write what stands on the transducer` }),
    ...(unit === 'mA' ? { scaling: 'which current stands for which pressure: from the label of the transducer' } : {}),
    ...remarks,
  };
  remark(document.contents, said);
  return document.toString({ lineWidth: 0 });
}

/** Puts each remark behind the first key of that name. */
function remark(node: unknown, said: Readonly<Record<string, string>>): void {
  const left = new Map(Object.entries(said));
  const walk = (at: unknown, depth: number): void => {
    if (isMap(at)) at.items.forEach((item) => walk(item, depth + 1));
    else if (isPair(at)) {
      const key = isScalar(at.key) ? String(at.key.value) : '';
      const text = depth > 2 ? left.get(key) : undefined;
      if (text !== undefined && isScalar(at.value)) at.value.comment = ` ${text}`;
      if (text !== undefined && isMap(at.value)) at.value.commentBefore = ` ${text}`;
      if (text !== undefined) left.delete(key);
      walk(at.value, depth + 1);
    } else if (typeof at === 'object' && at !== null && 'items' in at && Array.isArray(at.items)) at.items.forEach((item) => walk(item, depth + 1));
  };
  walk(node, 0);
}

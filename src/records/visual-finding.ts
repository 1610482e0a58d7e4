import { z } from 'zod';
import { longestSerial } from './assembly-serials.js';
import { textLine } from './text-line.js';

/** What a person saw of the assemblies after the hold. */
export const visualFindingSchema = z.strictObject({
  kind: z.literal('visual-finding'),
  finding: z.enum(['no leakage seen', 'leakage seen', 'not inspected']),
  /** Where the leakage was seen, where no single assembly can be named. */
  at: textLine(1000).optional(),
  /** Which assemblies leaked, and where on each. */
  leaks: z
    .array(z.strictObject({ assembly: textLine(longestSerial).min(1, { error: 'should be a serial number' }), at: textLine(300).optional() }))
    .max(200, { error: 'should be 200 assemblies or fewer' })
    .optional(),
});

export type VisualFinding = z.output<typeof visualFindingSchema>;

/** `leakage seen at A17-002 (crimp, end B); A17-005` */
export function visualWords({ finding, at, leaks = [] }: Omit<VisualFinding, 'kind'>): string {
  if (finding !== 'leakage seen') return at === undefined || at === '' ? finding : `${finding} (${at})`;
  const places = [...leaks.map((leak) => (leak.at === undefined || leak.at === '' ? leak.assembly : `${leak.assembly} (${leak.at})`)), ...(at === undefined || at === '' ? [] : [at])];
  return places.length === 0 ? finding : `${finding} at ${places.join('; ')}`;
}

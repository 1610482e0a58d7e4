import { inputError } from '../core/problems.js';
import { parseQuantity } from '../core/quantity.js';
import type { Hose } from './find-hose.js';
import { sizeName } from './hose-tables.js';
import { inBothUnits, times, weakest, type Rating } from './rating.js';

export const planKinds = ['proof', 'leakage', 'burst'] as const;
export type PlanKind = (typeof planKinds)[number];

/** What a plan is made from. */
export interface AssemblyRatings {
  /** The hose by its standard, or only its working pressure as printed on it. */
  readonly hose: Hose | Rating;
  /** Working pressures of the end fittings and anything else under pressure. */
  readonly fittings: readonly Rating[];
  readonly kind: PlanKind;
  /** As written, for example `60 s`; only for a proof test. */
  readonly hold?: string | undefined;
}

/** Proof, leakage and burst pressure as multiples of the working pressure. */
const proofFactor = 2; // ISO 6605:2017, 5.2.1; SAE J343
const burstFactor = 4; // ratio of minimum burst to working pressure of hydraulic hose (ISO 7751; GB/T 7939-2008, 5.4.2.1)
const leakageShare = 0.7; // of the minimum burst pressure (SAE J343, ISO 6605; from memory)

const isHose = (hose: Hose | Rating): hose is Hose => 'standard' in hose;

/**
 * A plan as YAML, every limit with the reason for it.
 * @throws InputError where the hold is shorter than the standards ask
 */
export function planForHose({ hose, fittings, kind, hold }: AssemblyRatings): string {
  const hoseRating = isHose(hose) ? hose.working : hose;
  const working = weakest([hoseRating, ...fittings]);
  const title = isHose(hose) ? `${hose.name} DN ${hose.size.dn} ${kind}` : `assembly of ${working.text} working pressure, ${kind}`;
  return [
    ...ratingLines(hose, hoseRating, fittings, working),
    '#',
    ...cautions[kind],
    `plan: ${title}`,
    ...{ proof: () => proof(working, hold), leakage: () => leakage(working), burst: () => burst(working) }[kind](),
    '',
  ].join('\n');
}

function ratingLines(hose: Hose | Rating, hoseRating: Rating, fittings: readonly Rating[], working: Rating): string[] {
  const weak = working === hoseRating ? 'the hose' : 'a fitting';
  return [
    ...(isHose(hose)
      ? [
          `# Hose: ${hose.name}, ${sizeName(hose.size)}: working pressure ${inBothUnits(hoseRating)}.`,
          `# From ${hose.standard} (edition ${hose.edition}).`,
          ...wrapped(hose.provenance),
          '# The current edition of the standard and the data of the hose maker rule; check the number against them.',
        ]
      : [`# Hose: working pressure ${inBothUnits(hoseRating)}, as given.`]),
    fittings.length === 0
      ? '# No rating of the end fittings was given. The assembly is only as strong as its weakest part: give each with --fitting-rating.'
      : `# Fittings: ${fittings.map(inBothUnits).join(', ')}.`,
    `# Working pressure of the assembly: ${inBothUnits(working)}, that of its weakest part (${weak}).`,
  ];
}

const cautions: Readonly<Record<PlanKind, readonly string[]>> = {
  proof: ['# High pressure hurts: purge the air, lid latched and mat in place, never approach or tighten an assembly under pressure.'],
  leakage: [
    '# DESTRUCTIVE: this is above the proof pressure. Never use or sell an assembly that has been through it.',
    '# High pressure hurts: purge the air, lid latched and mat in place, never approach or tighten an assembly under pressure.',
  ],
  burst: [
    '# DESTRUCTIVE: the assembly is meant to be brought to its burst pressure. Never use or sell it afterwards.',
    '# High pressure hurts: a bench that is built for burst tests only, air purged, lid latched, nobody near it.',
  ],
};

function proof(working: Rating, hold = '60 s'): string[] {
  const test = times(working, proofFactor);
  const seconds = parseQuantity(hold, 'time', '60 s');
  if (typeof seconds === 'string') throw inputError('--hold', '', seconds);
  if (seconds < 30) throw inputError('--hold', '', `'${hold}' is too short; the proof pressure is held for 30 s to 60 s (ISO 6605:2017, 5.2.1; SAE J343)`);
  if (seconds > 30 * 86_400) throw inputError('--hold', '', `'${hold}' is longer than 30 days`);
  const note = seconds > 60 ? 'longer than the 30 s to 60 s of ISO 6605:2017, 5.2.1 and SAE J343: a rule of your own' : 'held for 30 s to 60 s (ISO 6605:2017, 5.2.1; SAE J343)';
  return [
    line('testPressure', test.text, `twice the working pressure of the weakest part (ISO 6605:2017, 5.2.1)${both(test)}`),
    line('reachTolerance', '1 %', 'how exactly the pressure is set; a rule of your own'),
    line('holdTime', hold, note),
    ...floor(test),
    line('maximumDrop', '2 %', 'the standards set no limit on the drop, only that nothing leaks or fails: a rule of your own'),
    line('ceilingPressure', times(test, 1.1).text, `10 % above the test pressure, ${Math.round(((proofFactor * 1.1) / burstFactor) * 100)} % of the minimum burst pressure: a rule of your own`),
  ];
}

function leakage(working: Rating): string[] {
  const test = times(working, burstFactor * leakageShare);
  return [
    line('testPressure', test.text, `70 % of the minimum burst pressure of ${times(working, burstFactor).text} (SAE J343, ISO 6605; check the edition)${both(test)}`),
    line('reachTolerance', '1 %', 'how exactly the pressure is set; a rule of your own'),
    line('holdTime', '5 min', 'held for 5 min, brought to zero, held for 5 min again (SAE J343, ISO 6605; check the edition)'),
    line('cycles', '2', 'the two holds'),
    ...floor(test),
    line('ceilingPressure', times(test, 1.05).text, '5 % above the test pressure: a rule of your own'),
  ];
}

function burst(working: Rating): string[] {
  const test = times(working, burstFactor);
  return [
    line('testPressure', test.text, `minimum burst pressure, ${burstFactor} times the working pressure (ISO 7751)${both(test)}`),
    line('reachTolerance', '0 %', 'the minimum burst pressure must really be reached'),
    line('holdTime', '1 s', 'reaching it without a leak or failure is the test; what happens above it is measured all the same'),
    '# How fast: to the minimum burst pressure in 15 s to 30 s by SAE J343; ISO 1402 has its own times by bore (30 s to 60 s up',
    '# to 50 mm, from memory). To have the rise judged, add for example:',
    `#riseRate: { minimum: ${rate(test, 30)}, maximum: ${rate(test, 15)} }`,
  ];
}

const rate = (pressure: Rating, seconds: number): string => `${Number((pressure.value / seconds).toPrecision(3))} ${pressure.unit}/s`;

function floor(test: Rating): string[] {
  return [
    line('minimumPressure', times(test, 0.99).text, 'the test pressure less the 1 % above, to the end of the hold'),
    '# Pump a little above the test pressure: what settles before the hold must not bring it below the minimum.',
  ];
}

const both = (rating: Rating): string => (rating.unit === 'bar' ? '' : `; ${Number(rating.bar.toFixed(1))} bar`);
const line = (key: string, value: string, reason: string): string => `${`${key}: ${value}`.padEnd(30)} # ${reason}`;

/** A long sentence as comment lines of at most 120 characters. */
function wrapped(text: string): string[] {
  const lines = ['#'];
  for (const word of text.split(' ')) {
    if (`${lines.at(-1) ?? ''} ${word}`.length > 118) lines.push('#');
    lines[lines.length - 1] += ` ${word}`;
  }
  return lines;
}

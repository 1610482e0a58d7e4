import { z } from 'zod';
import { inputKeys, inputSchema, type InputOptions } from '../../drivers/index.js';
import { signalUnitOf, type SignalUnit } from '../../drivers/signal-unit.js';
import { quantity } from '../core/quantity.js';
import { pressureUnitOf, pressureUnits } from '../core/units.js';

const pressure = (min: number, max: number, meaning: string, example: string) => quantity({ dimension: 'pressure', min, max, meaning, example });
const number = (meaning: string) => z.number({ error: `should be a number: ${meaning}` });
const text = (meaning: string) => z.string().trim().min(1, { error: `should be ${meaning}` });
const day = (meaning: string) => z.iso.date({ error: `should be a day such as 2027-03-01: ${meaning}` });

const unit = text('the unit that the instrument sends, such as bar or mA').transform((written, context): SignalUnit => {
  const known = signalUnitOf(written);
  if (known !== undefined) return known;
  context.addIssue({ code: 'custom', message: `'${written}' should be one of ${[...pressureUnits, 'mA', 'V', 'mV', '%', 'counts'].join(', ')}` });
  return z.NEVER;
});

const scalePoint = z.strictObject({
  reading: number('what the instrument sends, in the unit of the channel'),
  pressure: pressure(-10, 20_000, 'the pressure that this reading stands for', '600 bar'),
});

/** What the calibration certificate says. Without coefficients the readings are taken as they are. */
export const calibrationSchema = z.strictObject({
  certificate: text('the number of the certificate'),
  date: day('when the transducer was calibrated'),
  due: day('the last day on which the calibration holds'),
  serial: text('the serial number of the transducer'),
  laboratory: text('who calibrated it').optional(),
  uncertainty: pressure(0, 1000, 'expanded uncertainty (k = 2) of the calibrated pressure', '0.8 bar'),
  coefficients: z
    .strictObject({
      constant: pressure(-1000, 1000, 'added to the pressure', '0.3 bar').default(0),
      linear: number('what the pressure is multiplied by, near 1').min(0.5, { error: 'should be 0.5 to 2, near 1' }).max(2, { error: 'should be 0.5 to 2, near 1' }).default(1),
      quadratic: number('what the square of the pressure in bar is multiplied by, in 1/bar').min(-0.01, { error: 'should be -0.01 to 0.01' }).max(0.01, { error: 'should be -0.01 to 0.01' }).default(0),
    })
    .prefault({}),
});

/** One channel as people write it; unknown keys are refused. */
export const channelSchema = z
  .strictObject({
    channel: text('the name of the channel').default('pressure'),
    input: inputSchema.optional(),
    instrument: text('the name of one of the instruments of this bench').optional().meta({ description: 'in place of input, where several channels share a link' }),
    value: text('the name of the value on the link').optional().meta({ description: 'without it the only value of the link, or the one that is called like the channel' }),
    unit,
    place: z.enum(['manifold', 'elsewhere'], { error: 'should be manifold or elsewhere' }).default('manifold').meta({ description: 'elsewhere: recorded, and never judged' }),
    safeLimit: pressure(0.01, 20_000, 'what the transducer stands without harm', '250 bar').optional().meta({ description: 'without it the upper end of its range' }),
    scaling: z
      .strictObject({ lower: scalePoint, upper: scalePoint })
      .refine(({ lower, upper }) => lower.reading !== upper.reading, { error: 'lower and upper should have two different readings' })
      .optional(),
    loopLimits: z.enum(['ne43', 'none']).default('ne43').meta({ description: 'none: a current outside 3.6 to 21 mA is no fault' }),
    range: z
      .strictObject({
        lower: pressure(-10, 20_000, 'lower end of the transducer', '0 bar').default(0),
        upper: pressure(0.01, 20_000, 'upper end of the transducer', '600 bar'),
      })
      .refine(({ lower, upper }) => lower < upper, { error: 'lower should be below upper' }),
    resolution: pressure(1e-6, 100, 'the smallest step of the reading', '0.1 bar').optional(),
    accuracyClass: number('% of span').positive({ error: 'should be above 0, in % of span' }).max(10, { error: 'should be at most 10, in % of span' }).optional(),
    usualInterval: quantity({ dimension: 'time', min: 0.001, max: 3600, meaning: 'how often a reading usually comes', example: '100 ms' }).optional(),
    calibration: calibrationSchema.optional(),
  })
  .superRefine((channel, context) => {
    if (channel.safeLimit !== undefined && channel.safeLimit < channel.range.upper) {
      context.addIssue({ code: 'custom', path: ['safeLimit'], message: 'should not be below the upper end of the range' });
    }
    if (channel.scaling !== undefined || pressureUnitOf(channel.unit) !== undefined) return;
    context.addIssue({ code: 'custom', path: ['scaling'], message: `missing; ${channel.unit} is no pressure, so say which reading stands for which pressure` });
  })
  // Told together with other mistakes of the channel, and not only once they are put right.
  .refine((channel) => (channel.input === undefined) !== (channel.instrument === undefined), {
    path: ['input'],
    error: (issue) => {
      const written = issue.input as { input?: unknown } | undefined;
      return written?.input === undefined
        ? 'missing; say where the channel is read, or name its instrument where several channels share one'
        : 'name either an input or an instrument, not both';
    },
    when: ({ value }) => typeof value === 'object' && value !== null,
  });

/** One measured input as written: where it is read, what its readings mean. Pressures in bar, times in s. */
export type ChannelConfig = z.output<typeof channelSchema>;
/** A channel with its link: `input` is its own or that of its instrument. */
export interface Channel extends Omit<ChannelConfig, 'input' | 'value'> {
  readonly input: InputOptions;
  /** Name of the link, which other channels may share. */
  readonly link: string;
  /** Which value of the link it is. */
  readonly value: string;
}
export type Calibration = z.output<typeof calibrationSchema>;

/** Every key that a channel may have, for the hint at a mistyped one. */
export const channelKeys: readonly string[] = [
  ...new Set([
    ...Object.keys(channelSchema.shape),
    ...Object.keys(calibrationSchema.shape),
    ...Object.keys(calibrationSchema.shape.coefficients.unwrap().shape),
    ...Object.keys(scalePoint.shape),
    ...inputKeys,
    'serial', 'socket', 'id', 'query', 'every', 'answerWithin', 'overRange', 'underRange', 'noReading', 'error', 'lid', 'vent', 'pump',
  ]),
];

import { z } from 'zod';
import { quantity } from '../../core/quantity.js';

const text = (what: string) => z.string({ error: (issue) => (issue.input === undefined ? `missing; it must be ${what}` : `should be ${what}`) }).trim().min(1, { error: `should be ${what}` });

const addressExample = 'http://192.168.0.20:8086';

const address = text(`the address of the database, for example ${addressExample}`).transform((written, context): URL => {
  const refuse = (why: string) => {
    context.addIssue({ code: 'custom', message: why });
    return z.NEVER;
  };
  const url = URL.canParse(written) ? new URL(written) : null;
  if (url === null || !/^https?:$/.test(url.protocol) || url.hostname === '') return refuse(`'${written}' should be an address such as ${addressExample}`);
  // What was written is not repeated here: it holds a secret.
  if (url.username !== '' || url.password !== '') return refuse(`should hold no login; give 'username' and 'passwordFile' instead`);
  if (url.search !== '' || url.hash !== '') return refuse(`'${written}' should end with the host, its port or a path; give the database as 'database'`);
  return url;
});

const days = /^(\d+(?:\.\d+)?)\s*(h|hours?|d|days?)$/;

/** s, from `30 days` or `12 h`. */
const backlog = z.union([z.string(), z.number()], { error: "should be a time such as '30 days'" }).transform((written, context): number => {
  const [, number, unit] = days.exec(String(written).trim()) ?? [];
  const seconds = Number(number) * (unit?.startsWith('h') === true ? 3600 : 86_400);
  if (seconds >= 3600 && seconds <= 3650 * 86_400) return seconds;
  context.addIssue({ code: 'custom', message: `'${written}' should be '1 h' to '3650 days': older readings that were never sent are sent thinned` });
  return z.NEVER;
});

/** Section `influx` of a bench file: a database that gets a copy of what the store records. */
export const influxSchema = z
  .strictObject({
    url: address,
    database: text('the name of the database').max(64, { error: 'should be a name of at most 64 characters' }),
    username: text('the name to log in with').optional(),
    passwordFile: text('the path of a file that holds only the password, relative to this file').optional(),
    backlog: backlog.default(30 * 86_400),
    thinnedTo: quantity({ dimension: 'time', min: 0.1, max: 3600, meaning: 'of each so long a stretch of the oldest backlog, the first, lowest, highest and last reading are sent', example: '10 s' }).default(10),
    pointsPerSecond: z
      .number({ error: 'should be a number of points from 100 to 1000000, for example 20000' })
      .int({ error: 'should be a whole number of points' })
      .min(100, { error: 'should be 100 or more points a second' })
      .max(1_000_000, { error: 'should be at most 1000000 points a second' })
      .default(20_000),
    engine: z.enum(['influxdb', 'victoria-metrics'], { error: 'should be influxdb or victoria-metrics; without it the server is asked' }).optional(),
  })
  .refine(({ username, passwordFile }) => passwordFile === undefined || username !== undefined, { path: ['username'], error: 'missing; a password needs a name to log in with' });

/** Every key of the section, for the hint at a mistyped one. */
export const influxKeys: readonly string[] = Object.keys(influxSchema.shape);

/** The section, checked. `passwordFile` is absolute once the bench file has been read. */
export type InfluxSettings = z.output<typeof influxSchema>;
export type Engine = NonNullable<InfluxSettings['engine']>;

/** The settings with their path made absolute. */
export const influxBeside = ({ passwordFile, ...rest }: InfluxSettings, beside: (path: string) => string): InfluxSettings => ({
  ...rest,
  ...(passwordFile !== undefined && { passwordFile: beside(passwordFile) }),
});

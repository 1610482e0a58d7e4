import { z } from 'zod';
import { quantity } from '../../core/quantity.js';
import { barredPort } from './barred-ports.js';

const time = (min: number, max: number, meaning: string, example: string) => quantity({ dimension: 'time', min, max, meaning, example });
const line = (what: string) => z.string({ error: `should be ${what}` }).trim().min(1, { error: `should be ${what}` }).regex(/^[^\r\n]*$/, { error: `should be ${what}, on one line` });

const address = line("an e-mail address, for example 'quality@shop.example'").regex(/^[^\s@<>,;]+@[^\s@<>,;]+$/, {
  error: (issue) => `'${String(issue.input)}' should be an e-mail address, for example 'quality@shop.example'`,
});

const webAddress = line('an address that begins with https:// or http://').refine(
  (text) => {
    const url = URL.canParse(text) ? new URL(text) : null;
    return (url?.protocol === 'https:' || url?.protocol === 'http:') && url.username === '' && url.password === '';
  },
  { error: (issue) => `'${String(issue.input).slice(0, 80)}' should be an address that begins with https:// or http://, without a password in it (tokenFile is for that)` },
).refine((text) => barredPort(text) === null, {
  error: (issue) => `port ${barredPort(String(issue.input))} belongs to another service, and no web request is ever sent to it; choose another, for example 8443`,
});

const webhookSchema = z.strictObject({
  url: webAddress,
  /** A file whose text is sent as bearer token (RFC 6750). */
  tokenFile: line('the path of a file with the token').optional(),
});

const emailSchema = z
  .strictObject({
    server: line('the name of the SMTP server'),
    port: z.number({ error: 'should be a port number, for example 587' }).int({ error: 'should be a port number' }).min(1, { error: 'should be a port number' }).max(65_535, { error: 'should be a port number' }).optional(),
    /** `starttls` refuses a server without it, `tls` speaks it from the first byte, `none` is for a relay in the same house. */
    security: z.enum(['starttls', 'tls', 'none']).default('starttls'),
    /** Certificate (PEM) of the shop's own authority that the server's was signed by. */
    caFile: line('the path of a certificate').optional(),
    user: line('the name to log in with').optional(),
    passwordFile: line('the path of a file with the password').optional(),
    from: address,
    to: z.array(address, { error: 'should be a list of e-mail addresses' }).min(1, { error: 'should name at least one address' }).max(50, { error: 'should name at most 50 addresses' }),
  })
  .superRefine(({ user, passwordFile, security }, context) => {
    if ((user === undefined) !== (passwordFile === undefined)) context.addIssue({ code: 'custom', path: [user === undefined ? 'user' : 'passwordFile'], message: 'missing; user and passwordFile belong together' });
    if (user !== undefined && security === 'none') context.addIssue({ code: 'custom', path: ['security'], message: "'none' would send the password for anybody to read; take starttls or tls" });
  });

/** Section `alerts` of a bench file: what is told to whom. */
export const alertSchema = z
  .strictObject({
    weights: z.array(z.enum(['alarm', 'warning', 'remark'])).min(1, { error: 'should name at least one of alarm, warning, remark' }).default(['alarm']),
    /** Only these subjects; without it all of these weights. */
    subjects: z.array(line('a subject such as link or store')).min(1, { error: 'should name at least one subject' }).optional(),
    /** Verdicts of runs that are told. */
    runs: z.array(z.enum(['pass', 'fail', 'inconclusive'])).default([]),
    after: time(0, 86_400, 'what is over sooner is not told', '10 s').default(10),
    atMostEvery: time(1, 30 * 86_400, 'one subject is not told more often', '15 min').default(900),
    remindEvery: time(60, 366 * 86_400, 'what goes on is told again', '24 h').default(86_400),
    webhooks: z.array(webhookSchema).max(10, { error: 'should be at most 10' }).default([]),
    email: emailSchema.optional(),
  })
  .superRefine(({ webhooks, email }, context) => {
    if (webhooks.length === 0 && email === undefined) context.addIssue({ code: 'custom', path: [], message: 'tells nobody; it should have webhooks or email' });
  });

export type AlertSettings = z.output<typeof alertSchema>;
export type WebhookSettings = z.output<typeof webhookSchema>;
export type EmailSettings = z.output<typeof emailSchema>;

/** The same with the paths of secrets made absolute. */
export const alertsBeside = ({ webhooks, email, ...rest }: AlertSettings, beside: (path: string) => string): AlertSettings => ({
  ...rest,
  webhooks: webhooks.map((hook) => ({ ...hook, ...(hook.tokenFile !== undefined && { tokenFile: beside(hook.tokenFile) }) })),
  email: email && { ...email, ...(email.caFile !== undefined && { caFile: beside(email.caFile) }), ...(email.passwordFile !== undefined && { passwordFile: beside(email.passwordFile) }) },
});

/** Every key of the section, for the hint at a mistyped one. */
export const alertKeys: readonly string[] = [
  'weights', 'subjects', 'runs', 'after', 'atMostEvery', 'remindEvery', 'webhooks', 'email', ...Object.keys(webhookSchema.shape), ...Object.keys(emailSchema.shape),
];

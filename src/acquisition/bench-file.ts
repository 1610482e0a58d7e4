import { dirname, resolve } from 'node:path';
import { z } from 'zod';
import type { InputOptions } from '../../drivers/index.js';
import { pageProblems } from '../access/check-access.js';
import { pageBeside, pageKeys, pageSchema, type PageSettings } from '../access/page-settings.js';
import { InputError, problemsOf } from '../core/problems.js';
import { pressureUnitOf, pressureUnits, type PressureUnit } from '../core/units.js';
import { alertKeys, alertsBeside, alertSchema, type AlertSettings } from '../sinks/alerts/alert-settings.js';
import { shopKeys, shopSection, type ShopSection } from '../certificate/shop-section.js';
import { influxBeside, influxKeys, influxSchema, type InfluxSettings } from '../sinks/influx/settings.js';
import { channelKeys, channelSchema, type Channel } from './channel-config.js';
import { contactInputs, contactKeys, contactSchema } from './contact-settings.js';
import { judgedChannel } from './judged-channel.js';
import { diskKeys, diskSchema, type DiskSettings } from './disk-settings.js';
import { instrumentSchema, linksOf, type Link } from './links.js';

const text = (what: string) => z.string({ error: (issue) => (issue.input === undefined ? `missing; it must be ${what}` : `should be ${what}`) }).trim();
const file = (what: string) => text(`the path of ${what}, relative to this file`).min(1, { error: `should be the path of ${what}` });

const unit = text(`one of ${pressureUnits.join(', ')}`).transform((written, context): PressureUnit => {
  const known = pressureUnitOf(written);
  if (known !== undefined) return known;
  context.addIssue({ code: 'custom', message: `'${written}' should be one of ${pressureUnits.join(', ')}` });
  return z.NEVER;
});

/** The bench file as people write it; unknown keys are refused. */
export const benchSchema = z.strictObject({
  bench: text('the name of the bench')
    .min(1, { error: 'the bench needs a name' })
    .max(60, { error: 'should be a name of at most 60 characters' })
    .regex(/^\P{Cc}*$/u, { error: 'should be a name on one line' }),
  unit: unit.default('bar'),
  store: file('the record store').default('records.sqlite'),
  page: pageSchema.prefault({}),
  people: file('the list of people who may use the pages').optional(),
  disk: diskSchema.prefault({}),
  signingKey: file('the private key that signs the records').optional(),
  shop: shopSection.optional(),
  alerts: alertSchema.optional(),
  influx: influxSchema.optional(),
  plan: file('the plan').optional(),
  plans: file('the folder of plans').default('plans'),
  thresholds: file('the thresholds').optional(),
  instruments: z.array(instrumentSchema, { error: 'should be a list of the links that several channels share' }).default([]),
  channels: z
    .array(channelSchema, { error: 'should be a list with the pressure channels of the bench' })
    .min(1, { error: 'should list at least one pressure channel' }),
  contacts: contactSchema.prefault({}),
});

/** Every key that a bench file may have. */
export const benchKeys: readonly string[] = [...Object.keys(benchSchema.shape), ...pageKeys, ...diskKeys, ...alertKeys, ...influxKeys, ...shopKeys, ...channelKeys, ...contactKeys];

/** A checked bench file; paths are absolute. */
export interface Bench {
  readonly name: string;
  /** Unit that pages and messages show. */
  readonly unit: PressureUnit;
  readonly store: string;
  readonly page: PageSettings;
  /** Absent: nobody signs in, and the pages are for this computer alone. */
  readonly people?: string;
  readonly disk: DiskSettings;
  /** Private key that signs every seal; absent: seals are not signed. */
  readonly signingKey?: string;
  /** Who stands at the head of a certificate; absent: nobody does. */
  readonly shop?: ShopSection;
  /** Absent: nobody is told but those who see the page. Paths are absolute. */
  readonly alerts?: AlertSettings;
  /** Absent: nothing leaves the store. Paths are absolute. */
  readonly influx?: InfluxSettings;
  /** Absent: runs are recorded and measured, and stay inconclusive. */
  readonly plan?: string;
  /** Folder of the shop's plans; it need not be there. */
  readonly plans: string;
  /** Absent: the standard thresholds. */
  readonly thresholds?: string;
  /** Where thresholds are saved: the file above, or `thresholds.yaml` beside the bench file. */
  readonly thresholdsPlace: string;
  /** Pressure channels in the order of the file. */
  readonly channels: readonly Channel[];
  /** The channel with the widest range on the manifold: the one that is judged where no plan asks for a narrower one. */
  readonly channel: Channel;
  /** Every port and connection, with all that is read from it. */
  readonly links: readonly Link[];
}

/**
 * Checks what was read from a bench file. Opens nothing.
 * @param source the file's path: paths in it are relative to its folder
 * @throws InputError that names each wrong field, its value and what would be right.
 */
export function parseBench(input: unknown, source: string): Bench {
  const found = benchSchema.safeParse(input);
  if (!found.success) throw new InputError(source, problemsOf(found.error, input, benchKeys, benchSchema));
  const { bench, plan, plans, thresholds, channels, instruments, contacts, store, page, people, disk, signingKey, alerts, influx, shop, ...rest } = found.data;
  const unreachable = pageProblems(pageBeside(page, String), people !== undefined);
  if (unreachable.length > 0) throw new InputError(source, unreachable);
  const beside = (path: string) => resolve(dirname(source), path);
  const placed = <I extends InputOptions | undefined>(input: I): I => (input?.driver === 'replay' ? { ...input, path: beside(input.path) } : input);
  const { links, problems } = linksOf({
    instruments: instruments.map((instrument) => ({ ...instrument, input: placed(instrument.input) })),
    channels: channels.map((channel) => ({ ...channel, input: placed(channel.input) })),
    contacts: contactInputs(contacts),
  });
  if (problems.length > 0) throw new InputError(source, problems);
  const all = links.flatMap((link) => link.channels);
  const channel = judgedChannel(all, null);
  if (channel === undefined) throw new InputError(source, [{ place: 'channels', text: 'at least one channel should be on the manifold: nothing could be judged' }]);
  return {
    name: bench,
    unit: rest.unit,
    store: beside(store),
    page: pageBeside(page, beside),
    disk,
    channels: channels.flatMap(({ channel: name }) => all.find((one) => one.channel === name) ?? []),
    channel,
    links,
    plans: beside(plans),
    thresholdsPlace: beside(thresholds ?? 'thresholds.yaml'),
    ...(alerts === undefined ? {} : { alerts: alertsBeside(alerts, beside) }),
    ...(influx === undefined ? {} : { influx: influxBeside(influx, beside) }),
    ...(people === undefined ? {} : { people: beside(people) }),
    ...(signingKey === undefined ? {} : { signingKey: beside(signingKey) }),
    ...(shop === undefined ? {} : { shop: { ...shop, ...(shop.logo !== undefined && { logo: beside(shop.logo) }), ...(shop.font !== undefined && { font: beside(shop.font) }) } }),
    ...(plan === undefined ? {} : { plan: beside(plan) }),
    ...(thresholds === undefined ? {} : { thresholds: beside(thresholds) }),
  };
}

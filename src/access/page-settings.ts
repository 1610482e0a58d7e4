import { isIP } from 'node:net';
import { z } from 'zod';
import type { TlsPaths } from './tls-files.js';

const text = (what: string) => z.string({ error: (issue) => (issue.input === undefined ? `missing; it must be ${what}` : `should be ${what}`) }).trim().min(1, { error: `should be ${what}` });
const port = 'a port number from 1 to 65535 that no other program uses, for example 8460';
const whole = { error: `should be ${port}` };

const hostName = text('a name by which browsers call this computer, for example bench2.shop.example')
  .transform((name) => name.toLowerCase())
  .refine((name) => name.length <= 253 && isIP(name) === 0 && /^[a-z0-9]([a-z0-9-]*[a-z0-9])?(\.[a-z0-9]([a-z0-9-]*[a-z0-9])?)*$/.test(name), {
    error: 'should be a name alone, without http://, port or path, for example bench2.shop.example',
  });

/** Section `page` of a bench file: where the pages are served, under which names, and whether in secret. */
export const pageSchema = z.strictObject({
  /** This computer alone unless people are set up; 0.0.0.0 is every address that it has. */
  address: text('an address of this computer, for example 127.0.0.1').default('127.0.0.1'),
  port: z.number(whole).int(whole).min(1, whole).max(65_535, whole).default(8460),
  /** Names besides its addresses. A request under any other name is refused: somebody else's name may have been pointed here. */
  names: z.array(hostName, { error: 'should be a list of names, for example [bench2.shop.example]' }).default([]),
  tls: z
    .strictObject({
      certificate: text('the path of the certificate (PEM), relative to this file'),
      key: text('the path of its private key (PEM), relative to this file'),
    })
    .optional(),
});

export const pageKeys: readonly string[] = [...Object.keys(pageSchema.shape), 'certificate', 'key'];

export interface PageSettings {
  readonly address: string;
  readonly port: number;
  readonly names: readonly string[];
  /** Absent: what is sent can be read and changed on its way. */
  readonly tls?: TlsPaths;
}

/** The section with its paths made absolute. */
export const pageBeside = ({ tls, ...rest }: z.output<typeof pageSchema>, beside: (path: string) => string): PageSettings => ({
  ...rest,
  ...(tls !== undefined && { tls: { certificate: beside(tls.certificate), key: beside(tls.key) } }),
});

/** Whether only this computer can reach an address; `localhost` counts as such. */
export function isOwnOnly(address: string): boolean {
  const bare = bareAddress(address);
  return bare === 'localhost' || bare === '::1' || (isIP(bare) === 4 && bare.startsWith('127.'));
}

/** `[::1]` -> `::1` */
export const bareAddress = (address: string): string => address.replace(/^\[(.*)\]$/, '$1');

import type { Logger } from 'pino';
import { FrontDoor } from '../access/front-door.js';
import { readPeople } from '../access/people-file.js';
import type { KnownPerson } from '../access/people.js';
import { readTls, tlsNotice, type TlsPair } from '../access/tls-files.js';
import { FileWatch } from '../files/file-watch.js';
import type { BenchFiles } from './bench-setup.js';

export interface BenchDoorOptions {
  readonly files: BenchFiles;
  readonly source: string;
  readonly log: Logger;
  /** Says something on the page, or takes it away again (`null`). */
  notice(subject: string, text: string | null): void;
  /** The list of people was changed in its file. */
  peopleChanged(before: readonly KnownPerson[], now: readonly KnownPerson[]): void;
  /** Another certificate, for connections to come. */
  renewed(tls: TlsPair): void;
}

/** ms between two looks at how long the certificate lasts. */
const lookAtEnd = 3_600_000;

/** Who is let in to the pages of a bench, and by which certificate they are served; both follow their files. */
export class BenchDoor {
  /** `null`: nobody signs in. */
  readonly door: FrontDoor | null;
  private people: readonly KnownPerson[];
  private tls: TlsPair | null;
  private readonly watches: readonly { poll(): void }[];
  private lookedAt = -Infinity;

  constructor(private readonly options: BenchDoorOptions) {
    const { files, source, log } = options;
    const { people: path, page } = files.bench;
    this.people = files.people ?? [];
    this.tls = files.tls ?? null;
    this.door = files.people === undefined ? null : new FrontDoor({
      people: files.people,
      heard: ({ name, address, right }) => (right ? log.info({ name, address }, 'signed in') : log.warn({ name: name ?? 'a name that nobody has', address }, 'signing in failed')),
    });
    const tlsPaths = page.tls;
    this.watches = [
      ...(path === undefined
        ? []
        : [
            new FileWatch([path], () => readPeople(path), {
              changed: (people) => this.use(people),
              problem: (text) => options.notice('people', text),
            }),
          ]),
      ...(tlsPaths === undefined
        ? []
        : [
            new FileWatch([tlsPaths.certificate, tlsPaths.key], () => readTls(tlsPaths, source, Date.now()), {
              changed: (tls) => {
                this.tls = tls;
                this.lookedAt = -Infinity;
                log.info('the page has another certificate');
                options.renewed(tls);
              },
              problem: (text) => options.notice('certificate files', text),
            }),
          ]),
    ];
  }

  /** Call it about once a second. */
  poll(): void {
    for (const watch of this.watches) watch.poll();
    const now = Date.now();
    if (this.tls === null || now - this.lookedAt < lookAtEnd) return;
    this.lookedAt = now;
    this.options.notice('certificate', tlsNotice(this.tls, now));
  }

  private use(people: readonly KnownPerson[]): void {
    const before = this.people;
    this.people = people;
    this.door?.use(people);
    this.options.log.info({ people: people.map(({ name, role }) => `${name}: ${role}`) }, 'the list of people changed');
    this.options.peopleChanged(before, people);
  }
}

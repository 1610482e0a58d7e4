import type { KnownPerson } from '../access/people.js';
import type { Bench } from '../acquisition/bench-file.js';
import type { Channel } from '../acquisition/channel-config.js';
import { canonicalJson, sha256 } from '../records/canonical-json.js';
import type { SavedVersion } from '../library/version-folder.js';
import type { ChosenPlan } from '../records/chosen-plans.js';
import type { AuditTrail } from './audit-trail.js';

/** Who is named where a file was changed past the program. */
const onDisk = 'file on disk';
/** No name of a plan can make `plan NAME` of it. */
const chosenSubject = 'choice of plan';
/** Versions written down in one go: a library that is taken over has thousands. */
const mostAtOnce = 50;

/** A file with versions: a plan of the library, or the thresholds. */
export interface Versioned {
  /** `plan two-wire-dn12`, `thresholds` */
  readonly subject: string;
  readonly newest: number;
  /** Oldest first; read only where something is new. */
  versions(): readonly SavedVersion[];
}

/** Turns changes of files into entries about who changed what: those seen now, and those made while the program was not running. */
export class SettingsAudit {
  private readonly written = new Map<string, number>();

  constructor(
    private readonly trail: AuditTrail,
    private readonly versioned: () => readonly Versioned[],
    private readonly chosen: () => ChosenPlan | null = () => null,
  ) {}

  /** What the bench file says of each channel. Call it once the store is open. */
  channels({ channels }: Pick<Bench, 'channels'>): void {
    for (const channel of channels) {
      const { calibration, ...rest } = meaningOf(channel);
      this.compare(`calibration of ${channel.channel}`, calibration ?? null, (before) => (before === null ? 'is known from here on' : 'was changed in the bench file'));
      this.compare(`channel ${channel.channel}`, rest, (before) => (before === null ? 'is known from here on' : 'was changed in the bench file'));
    }
  }

  /** Who may use the pages. Secrets are told as a digest of their hash, from which nothing can be guessed that the file does not tell. */
  people(people: readonly KnownPerson[]): void {
    const list = people.map(({ name, role, secret }) => ({ name, role, secret: sha256(secret).slice(0, 16) }));
    this.compare('people', list, (before) => (before === null ? `set up: ${list.map(({ name, role }) => `${name} (${role})`).join(', ')}`.slice(0, 500) : differenceOf(before, list)));
  }

  /** To be called every few seconds: versions of plans and thresholds that are not written down yet. */
  poll(): void {
    this.choice();
    let left = mostAtOnce;
    for (const file of this.versioned()) {
      const { subject, newest } = file;
      if (!this.trail.settled || left <= 0) return;
      const known = this.written.get(subject) ?? versionIn(this.trail.newest(subject)?.details);
      this.written.set(subject, known);
      if (newest <= known) continue;
      for (const one of file.versions().filter(({ version }) => version > known).slice(0, left)) {
        left--;
        this.trail.note({
          who: one.who, subject, why: one.why, details: { version: one.version, sha256: one.sha256, wall: one.wall },
          what: one.retired ? `taken out of use, as version ${one.version}` : `version ${one.version}`,
        });
        this.written.set(subject, one.version);
      }
    }
  }

  private choice(): void {
    const chosen = this.trail.settled ? this.chosen() : null;
    if (chosen === null) return;
    const { key, who, wall } = chosen;
    const known = this.trail.newest(chosenSubject)?.details;
    if (typeof known === 'object' && known !== null && 'wall' in known && known['wall'] === wall) return;
    this.trail.note({ who, subject: chosenSubject, what: `the plan '${key}' is chosen for the next run`, details: { key, wall } });
  }

  private compare(subject: string, content: object | null, what: (before: unknown) => string): void {
    const before = this.trail.newest(subject);
    const digest = sha256(canonicalJson(content));
    const known = before?.details;
    if (typeof known === 'object' && known !== null && 'sha256' in known && known['sha256'] === digest) return;
    this.trail.note({ who: onDisk, subject, what: what(contentIn(known)), details: { sha256: digest, content: told(content) } });
  }
}

/** As it is told later; what is too long for an entry is known by its digest alone. */
const told = (content: object | null): object | null => (JSON.stringify(content).length < 12_000 ? content : null);

/** What a reading of a channel means; where it is read from is no matter of the record. */
function meaningOf({ unit, range, scaling, loopLimits, safeLimit, resolution, accuracyClass, calibration, place }: Channel) {
  return { unit, range, scaling: scaling ?? null, loopLimits, safeLimit: safeLimit ?? null, resolution: resolution ?? null, accuracyClass: accuracyClass ?? null, place, calibration };
}

const contentIn = (details: unknown): unknown => (typeof details === 'object' && details !== null && 'content' in details ? details.content : (details ?? null));
const versionIn = (details: unknown): number => (typeof details === 'object' && details !== null && 'version' in details && typeof details.version === 'number' ? details.version : 0);

interface Listed { readonly name: string; readonly role: string; readonly secret: string }

function differenceOf(before: unknown, now: readonly Listed[]): string {
  const then = Array.isArray(before) ? (before as Listed[]) : [];
  const of = (list: readonly Listed[], name: string) => list.find((one) => one.name === name);
  const said = [
    ...now.filter(({ name }) => of(then, name) === undefined).map(({ name, role }) => `${name} was added as ${role}`),
    ...then.filter(({ name }) => of(now, name) === undefined).map(({ name }) => `${name} was removed`),
    ...now.flatMap(({ name, role, secret }) => {
      const old = of(then, name);
      if (old === undefined) return [];
      return [...(old.role === role ? [] : [`${name} is ${role}, was ${old.role}`]), ...(old.secret === secret ? [] : [`${name} has another secret`])];
    }),
  ];
  return (said.join('; ') || 'the order of the list was changed').slice(0, 500);
}

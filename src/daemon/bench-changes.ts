import type { Bench } from '../acquisition/bench-file.js';
import type { KnownPerson } from '../access/people.js';
import { ChosenPlans } from '../records/chosen-plans.js';
import type { Store } from '../records/store.js';
import { AuditTrail } from './audit-trail.js';
import { SettingsAudit } from './settings-audit.js';
import type { BenchSetupDesk } from './setup-desk.js';

/** Rounds between two looks at the versions of plans and thresholds. */
const lookEvery = 3;

/** What the changes of a bench are seen by. */
export interface ChangingBench {
  readonly bench: Bench;
  readonly setup: BenchSetupDesk;
  /** `null` while the daemon is not running. */
  readonly records: Store | null;
  trouble(error: unknown): void;
}

/** Everything that is changed at one bench, written down: plans, thresholds, calibration, jobs, people. */
export class BenchChanges {
  readonly trail: AuditTrail;
  private readonly settings: SettingsAudit;
  private round = 0;

  constructor(private readonly state: ChangingBench) {
    const { setup, bench } = state;
    this.trail = new AuditTrail({
      name: bench.name,
      get records() {
        return state.records;
      },
      trouble: (error) => state.trouble(error),
    });
    this.settings = new SettingsAudit(this.trail, () => [
      ...setup.library.plans().map(({ key, file, newest }) => ({ subject: `plan ${key}`, newest: newest.version, versions: () => file.versions() })),
      ...(setup.thresholdsInForce ? [{ subject: 'thresholds', newest: setup.thresholdsNow?.newest?.version ?? 0, versions: () => setup.thresholds.versions() }] : []),
    ], () => (state.records === null ? null : new ChosenPlans(state.records.db).get(bench.name)));
  }

  /** Once the store is open: what was changed while the program was not running. */
  begin(people: readonly KnownPerson[] | undefined): void {
    this.settings.channels(this.state.bench);
    if (people !== undefined) this.settings.people(people);
    this.settings.poll();
  }

  people(people: readonly KnownPerson[]): void {
    this.settings.people(people);
  }

  /** To be called about once a second. */
  poll(): void {
    this.trail.poll();
    if (++this.round % lookEvery === 0) this.settings.poll();
  }
}

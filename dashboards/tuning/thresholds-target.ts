import { written } from '../../src/tuning/written-thresholds.js';
import type { Changes } from './change-history.js';
import type { SaveTarget } from './keep-panel.js';
import { controlOf, type ThresholdKey } from './threshold-controls.js';
import type { InForce, TuningApi } from './tuning-api.js';

export interface ThresholdActs {
  /** Saved: these are in force from the next run on. */
  saved(now: InForce): void;
  /** Somebody else saved: these are in force, and the changes of this page stand on top of them. */
  theirs(now: InForce): void;
}

/** Where what is on trial stands, if not on the side that is shown; each side is saved by itself. */
export const elsewhere = (count: number, what: string, side: string): string => (count === 0 ? '' : ` ${count === 1 ? 'One value' : `${count} values`} ${what} ${count === 1 ? 'is' : 'are'} on trial and saved under ${side}.`);

/** What saving changed thresholds would do. */
export function thresholdsTarget(api: TuningApi, { version, thresholds }: InForce, changes: Changes, ofPlan: number, acts: ThresholdActs): SaveTarget {
  const keys = Object.keys(changes) as ThresholdKey[];
  return {
    words: version === null
      ? 'Thresholds are not kept in versions on this bench: write what is changed into its thresholds file.'
      : keys.length === 0 ? `No threshold is changed yet.${elsewhere(ofPlan, 'of the plan', 'Plan')}` : keys.map((key) => `${controlOf(key).label}: ${written(thresholds, key)} → ${changes[key]}`).join('; '),
    ready: version !== null && keys.length > 0,
    save: async (who, why) => {
      const now = await api.save(version ?? 0, changes, who, why);
      acts.saved(now);
      return `Version ${now.version} is saved. The next run is judged by it; runs on record stay as they are.`;
    },
    takeTheirs: async () => {
      acts.theirs(await api.inForce());
      return 'Somebody saved other thresholds meanwhile. They are taken over here, and your changes stand on top of them: look again, then save.';
    },
  };
}

import type { FoundEvent, Outcome } from '../outcome.js';
import type { CycleRecord } from './cycle-record.js';
import type { GlitchState } from './glitch-filter.js';
import type { IntakeState } from './intake.js';
import type { NoiseState } from './noise.js';
import type { SignalScale } from './signal-scale.js';
import type { SpikeState } from './spike-detector.js';
import type { StillnessState } from './stillness.js';
import type { TrackerState } from './tracker-state.js';

/** A run that is being gathered. */
export interface RunState {
  open: boolean;
  /** s, first rise on the reader's clock. */
  from: number;
  cycles: CycleRecord[];
  events: FoundEvent[];
  /** Events beyond what is kept. */
  dropped: number;
  notes: string[];
  /** What the acquisition noticed that keeps the run from being decided; `at` in s on the trace's clock. */
  doubts: { at: number; text: string }[];
}

export const freshRun = (): RunState => ({ open: false, from: 0, cycles: [], events: [], dropped: 0, notes: [], doubts: [] });

/** The state of a reader at one sample; opaque plain data (numbers may be NaN, so not every JSON writer keeps it). */
export interface ReaderState {
  readonly intake: IntakeState;
  readonly noise: NoiseState;
  readonly glitch: GlitchState;
  readonly spike: SpikeState;
  readonly still: StillnessState;
  readonly run: RunState;
  readonly missing: number;
  readonly lost: boolean;
  readonly lastGood: number;
  readonly lastSeen: number;
  readonly latest: number;
  readonly saturatedRun: number;
  readonly lidWatched: boolean;
  readonly lidOpen: boolean;
  readonly lastVerdict: Outcome['verdict'] | null;
  readonly recent: FoundEvent[];
  readonly scale: SignalScale;
  readonly tracker: TrackerState;
}

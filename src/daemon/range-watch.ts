import type { AcquiredSample } from '../acquisition/acquire.js';
import type { Channel } from '../acquisition/channel-config.js';
import { conversionOf } from '../acquisition/conversion-of.js';
import { channelUncertainty } from '../acquisition/channel-uncertainty.js';
import { neededRange } from '../acquisition/judged-channel.js';
import { RangeAgreement, type Disagreement } from '../acquisition/range-agreement.js';
import type { Plan } from '../core/plan.js';
import { convert, type Conversion } from '../core/conversion.js';
import { Flag } from '../core/trace.js';
import { fromBar, type PressureUnit } from '../core/units.js';
import type { NoticeBoard } from './notice-board.js';

/** s that a transducer must be below its limit again before the alarm ends. */
const calm = 2;

/** What the watch is told of the bench and says to it. */
export interface RangeWatchSetup {
  /** Channels on the manifold. */
  readonly channels: readonly Channel[];
  readonly judged: Channel;
  readonly plan: Plan | null;
  readonly unit: PressureUnit;
  readonly board: NoticeBoard;
  /** Two transducers disagree, or do so no longer (`null`); a run that is going on cannot be decided then. */
  readonly doubt: (subject: string, text: string | null) => void;
}

/** One transducer beside the one that is judged. */
interface Beside {
  readonly channel: Channel;
  readonly agreement: RangeAgreement;
}

/** A transducer that a wider one stands beside, and that can be harmed. */
interface Guarded {
  readonly channel: Channel;
  readonly conversion: Conversion;
  /** s, when it was last above its limit. */
  aboveAt: number;
  alarmed: boolean;
}

/**
 * Several transducers of different range on one manifold: do they agree where both can measure, and is none of them above
 * what it stands. One for each reader; another plan may judge by another one.
 */
export class RangeWatch {
  private readonly beside: readonly Beside[];
  private readonly guarded: readonly Guarded[];

  constructor(private readonly setup: RangeWatchSetup) {
    const { judged, plan, channels } = setup;
    const compared = (channel: Channel) => ({ range: channel.range, uncertainty: channelUncertainty(channel) });
    this.beside = channels
      .filter(({ channel }) => channel !== judged.channel)
      .map((channel) => ({
        channel,
        agreement: new RangeAgreement(compared(judged), compared(channel), neededAbove(plan, judged) > limitOf(channel)),
      }));
    const widest = Math.max(...channels.map(({ range }) => range.upper));
    this.guarded = channels
      .filter(({ range }) => range.upper < widest)
      .map((channel) => ({ channel, conversion: conversionOf(channel), aboveAt: -Infinity, alarmed: false }));
  }

  /** The reader that this watch belongs to begins. No transducer may reach as far as the plan goes. */
  begin(): void {
    const { plan, judged, board } = this.setup;
    if (plan === null || judged.range.upper >= Math.max(plan.testPressure, plan.ceilingPressure ?? 0)) board.clear('range');
    else board.put('range', 'warning', `the plan goes beyond the ${this.shown(judged.range.upper)} that ${judged.channel} can measure`);
  }

  /** A run has begun: its agreement is checked from here on. */
  runBegan(): void {
    this.setup.board.clear('compared');
    for (const { agreement } of this.beside) agreement.restart();
  }

  /** Another reader takes over with a watch of its own: what this one said is taken back, and said again where it still holds. */
  end(): void {
    for (const { channel } of this.beside) {
      this.setup.board.clear(`agreement ${channel.channel}`);
      this.setup.doubt(`agreement ${channel.channel}`, null);
    }
    for (const { channel } of this.guarded) this.setup.board.clear(`isolate ${channel.channel}`);
  }

  /** The run is over: a transducer that could not be compared in it is told. */
  runEnded(): void {
    const unchecked = this.beside.filter(({ agreement }) => agreement.compared === 0);
    if (unchecked.length === 0) return;
    const text = unchecked.map(({ channel }) => `${channel.channel} could not be compared with ${this.setup.judged.channel} in this run`).join('; ');
    this.setup.board.put('compared', 'remark', text);
  }

  /** A reading of any channel. */
  hear(sample: AcquiredSample): void {
    const { judged } = this.setup;
    const good = sample.flags === Flag.good;
    const guarded = this.guarded.find(({ channel }) => channel.channel === sample.channel);
    if (guarded !== undefined) this.guard(guarded, sample);
    if (sample.channel === judged.channel) {
      if (good) for (const one of this.beside) this.compare(one, 'judged', sample);
      return;
    }
    const one = good ? this.beside.find(({ channel }) => channel.channel === sample.channel) : undefined;
    if (one !== undefined) this.compare(one, 'other', sample);
  }

  private compare(one: Beside, which: 'judged' | 'other', { time, pressure }: AcquiredSample): void {
    const was = one.agreement.disagreeing;
    const found = one.agreement.sample(which, time, pressure);
    const subject = `agreement ${one.channel.channel}`;
    if (found !== null) {
      const text = this.apart(one, found);
      this.setup.board.put(subject, 'warning', text);
      this.setup.doubt(subject, text);
    } else if (was && !one.agreement.disagreeing) {
      this.setup.board.clear(subject);
      this.setup.doubt(subject, null);
    }
  }

  private guard(one: Guarded, { time, value, flags }: AcquiredSample): void {
    const limit = limitOf(one.channel);
    // From the reading itself: far above its range there is no pressure any more.
    const above = convert(one.conversion, value) > limit || (flags & (Flag.overRange | Flag.saturated)) !== 0;
    const subject = `isolate ${one.channel.channel}`;
    if (above) {
      one.aboveAt = time;
      one.alarmed = true;
      this.setup.board.put(subject, 'alarm', `isolate the low-range transducer: ${one.channel.channel} is above the ${this.shown(limit)} that it stands`);
    } else if (one.alarmed && flags === Flag.good && time - one.aboveAt > calm) {
      one.alarmed = false;
      this.setup.board.clear(subject);
    }
  }

  private apart({ channel }: Beside, { judged, other, allowed }: Disagreement): string {
    return `${channel.channel} shows ${this.shown(other)} where ${this.setup.judged.channel} shows ${this.shown(judged)}, more than the ${this.shown(allowed)} that both may err: one of the transducers has drifted, or a gauge valve is shut`;
  }

  private shown(bar: number): string {
    return `${Number(fromBar(bar, this.setup.unit).toPrecision(5))} ${this.setup.unit}`;
  }
}

/** bar: what a transducer stands. */
const limitOf = ({ safeLimit, range }: Channel): number => safeLimit ?? range.upper;

/** bar: how far a run goes; without a plan as far as the judged transducer reaches. */
const neededAbove = (plan: Plan | null, judged: Channel): number => (plan === null ? judged.range.upper : neededRange(plan));

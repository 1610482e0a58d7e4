import { Flag } from '../../../src/core/trace.js';
import { acquireLink, type Acquired } from '../../../src/acquisition/acquire.js';
import { parseBench } from '../../../src/acquisition/bench-file.js';
import { FakeWiring } from '../fake-wiring.js';
import { VirtualClock } from '../virtual-clock.js';
import { diceOf, faultKinds, joined, noise, pieces, withFlips, withoutBytes, type FaultKind } from './faults.js';
import type { Said, Subject } from './subjects.js';

/** What came of many faults. */
export interface Tally {
  readonly subject: string;
  faults: number;
  readonly byKind: Partial<Record<FaultKind, number>>;
  good: number;
  /** Samples that were flagged: seen to be no number. */
  flagged: number;
  /** Good samples with a number that the instrument did not say then. */
  wrong: number;
  readonly wrongBy: Partial<Record<FaultKind, number>>;
  /** Numbers that the instrument did not say and that the range kept out. */
  keptOut: number;
  /** s, longest time from the end of a fault to the next good sample, in periods of the instrument. */
  slowest: number;
  slowestBy: FaultKind | null;
  errors: string[];
}

/** What the instrument said, when. */
interface Truth {
  readonly time: number;
  readonly value: number;
}

/** s that an instrument takes to answer. */
const latency = 0.01;
/** Clean answers between two faults. */
const between = 3;

/** Plays `count` faults to a driver, one at a time, with clean answers between; the same seed plays the same. */
export function campaign(subject: Subject, count: number, seed: number): Tally {
  return new Campaign(subject, seed).play(count);
}

class Campaign {
  private readonly tally: Tally;
  private readonly clock = new VirtualClock();
  private readonly wiring = new FakeWiring();
  private readonly dice;
  private readonly truths = new Map<string, Truth[]>();
  private readonly kinds: readonly FaultKind[];
  private turn = 0;
  /** Faults still to be played. */
  private left = 0;
  private clean = 0;
  private counter = 0;
  private before: Uint8Array = new Uint8Array(0);
  private present: FaultKind = 'split';
  /** s, when the fault that is being got over ended; `null` when all is well. */
  private endedAt: number | null = null;
  private awaited = new Set<string>();
  /** The instrument says nothing before this time. */
  private silentUntil = -Infinity;
  /** s, the line is free again: what comes later never overtakes. */
  private freeAt = 0;
  /** s, when the link was last opened. */
  private openedAt = 0;

  constructor(
    private readonly subject: Subject,
    seed: number,
  ) {
    this.dice = diceOf(subject.name, seed);
    this.kinds = faultKinds.filter((kind) => !subject.spared?.includes(kind));
    this.tally = { subject: subject.name, faults: 0, byKind: {}, good: 0, flagged: 0, wrong: 0, wrongBy: {}, keptOut: 0, slowest: 0, slowestBy: null, errors: [] };
  }

  play(count: number): Tally {
    const { subject, tally } = this;
    this.left = count;
    const bench = parseBench(
      { bench: 'b', instruments: [{ instrument: 'i', input: subject.input }], channels: subject.channels.map((channel) => ({ channel, instrument: 'i', value: channel, unit: 'bar', range: { upper: '1000 bar' } })) },
      'bench.yaml',
    );
    const [link] = bench.links;
    if (link === undefined) throw new Error('no link');
    this.wiring.onSend = (question) => this.asked(Buffer.from(question, 'latin1'));
    const subscription = acquireLink(link, this.wiring, this.clock).subscribe({ next: (item) => this.hear(item), error: (error: unknown) => tally.errors.push(String(error)) });
    // An instrument that is not asked speaks by itself.
    const tick = () => {
      if (this.subject.answerWithin === 0) this.asked(new Uint8Array(0));
      if (tally.faults < count || this.endedAt !== null || this.awaited.size > 0) this.clock.after(subject.every, tick);
    };
    tick();
    for (let rounds = 0; tally.faults < count && tally.errors.length === 0; rounds++) {
      this.clock.pass(subject.every);
      if (rounds > count * 200) tally.errors.push(`only ${tally.faults} faults in ${rounds} rounds: the driver no longer asks`);
    }
    this.clock.pass(20);
    if (this.endedAt !== null) tally.errors.push(`never got over '${this.present}'`);
    subscription.unsubscribe();
    this.clock.pass(20);
    if (this.wiring.openLinks !== 0 || this.clock.waiting > 0) tally.errors.push(`${this.wiring.openLinks} links and ${this.clock.waiting} timers are left behind`);
    return tally;
  }

  private value(channel: string): number {
    const step = 0.05;
    const own = Math.fround(Number((100 + ((this.counter++ * 379) % 9973) * step).toFixed(2)));
    const shown = this.subject.name.startsWith('modbus') ? own : Number(own.toFixed(2));
    const told = this.truths.get(channel) ?? [];
    told.push({ time: this.clock.now(), value: shown });
    if (told.length > 200) told.splice(0, 100);
    this.truths.set(channel, told);
    return shown;
  }

  /** A question came, or it is time for a line. */
  private asked(question: Uint8Array): void {
    const now = this.clock.now();
    if (now < this.silentUntil) return;
    const said = this.subject.say(question, (channel) => this.value(channel));
    if (said === null) return;
    if (this.subject.answerWithin === 0) this.answer(said);
    else this.clock.after(latency, () => this.answer(said));
  }

  private answer(said: Said): void {
    const { frame } = said;
    const well = this.left > 0 && this.endedAt === null && this.wiring.openLinks > 0;
    if (!well || said.values.length === 0 || this.clean++ < between) this.deliver(frame);
    else this.spoil(frame);
    this.before = frame;
  }

  private deliver(bytes: Uint8Array, after = 0): void {
    const due = Math.max(this.clock.now() + after, this.freeAt);
    this.freeAt = due;
    if (due <= this.clock.now()) return this.wiring.receive(bytes);
    const opening = this.wiring.opened.length;
    // What was on its way when the link was lost does not come over the next one.
    this.clock.after(due - this.clock.now(), () => this.wiring.opened.length === opening && this.wiring.receive(bytes));
  }

  private spoil(frame: Uint8Array): void {
    const { subject, tally } = this;
    const kind = this.kinds[this.turn++ % this.kinds.length] ?? 'split';
    this.present = kind;
    this.clean = 0;
    tally.faults++;
    this.left--;
    tally.byKind[kind] = (tally.byKind[kind] ?? 0) + 1;
    const over = this.apply(kind, frame, subject.answerWithin || subject.every);
    this.awaited = new Set(subject.channels);
    this.clock.after(over, () => (this.endedAt = this.clock.now()));
    // Until then no further fault is played.
    this.clean = -Math.ceil(over / subject.every) * subject.channels.length;
  }

  /** @returns s until the fault is over */
  private apply(kind: FaultKind, frame: Uint8Array, patience: number): number {
    const { dice, subject } = this;
    switch (kind) {
      case 'bytes lost':
        this.deliver(withoutBytes(frame, dice));
        return 0;
      case 'bits flipped':
        this.deliver(withFlips(frame, dice, subject.flips, subject.flipsWithin));
        return 0;
      case 'split': {
        const parts = pieces(frame, dice);
        parts.forEach((part, i) => this.deliver(part, (i * patience * 0.6) / parts.length));
        return patience * 0.6;
      }
      case 'run together':
        this.deliver(subject.answerWithin === 0 ? joined(this.before, frame) : joined(noise(dice), subject.name === 'modbus-rtu' ? frame : new Uint8Array(0)));
        return 0;
      case 'late': {
        const delay = patience * 1.01 + ((subject.latest - patience * 1.01) * dice(1000)) / 1000;
        this.deliver(frame, Math.max(0.001, delay));
        return Math.max(0.001, delay);
      }
      case 'twice': {
        const gap = dice(3) === 0 ? 0 : 0.001 + dice(15) / 1000;
        if (gap === 0) this.deliver(joined(frame, frame));
        else {
          this.deliver(frame);
          this.deliver(frame, gap);
        }
        return gap;
      }
      case 'wrong id':
        this.deliver(subject.misaddressed(frame, dice(250)));
        return 0;
      case 'noise':
        this.deliver(frame);
        this.deliver(noise(dice), 0.02 + dice(60) / 1000);
        return 0.08;
      case 'cut off and unplugged': {
        this.deliver(frame.subarray(0, dice(frame.length + 1)));
        const away = dice(30) / 10;
        this.wiring.unplugged = true;
        this.wiring.lose();
        this.clock.after(away, () => (this.wiring.unplugged = false));
        this.freeAt = 0;
        return away;
      }
      case 'instrument restarts': {
        const away = 0.5 + dice(40) / 10;
        this.deliver(frame.subarray(0, dice(frame.length + 1)));
        this.silentUntil = this.clock.now() + away;
        this.deliver(joined(Uint8Array.of(0, 0), Buffer.from('\r\nBOOT v1.2\r\n')), away * 0.9);
        return away;
      }
    }
  }

  private hear(item: Acquired): void {
    if (item.kind === 'notice' && item.code === 'opened') this.openedAt = item.time;
    if (item.kind !== 'sample') return;
    const { tally, subject } = this;
    const validFor = subject.answerWithin === 0 ? 1 : subject.answerWithin;
    const isTrue = (value: number) => (this.truths.get(item.channel) ?? []).some((said) => said.value === value && item.time - said.time <= validFor + 1e-9);
    if (item.flags !== Flag.good) {
      tally.flagged++;
      if (item.fault === 'implausible' && !Number.isNaN(item.value) && !isTrue(item.value)) tally.keptOut++;
      return;
    }
    if (!isTrue(item.pressure)) {
      tally.wrong++;
      tally.wrongBy[this.present] = (tally.wrongBy[this.present] ?? 0) + 1;
      return;
    }
    tally.good++;
    if (this.endedAt === null) return;
    this.awaited.delete(item.channel);
    if (this.awaited.size > 0) return;
    // A link that had to be opened again is back when it is open, not when it could be.
    const periods = (item.time - Math.max(this.endedAt, this.openedAt)) / subject.every;
    if (periods > tally.slowest) [tally.slowest, tally.slowestBy] = [periods, this.present];
    this.endedAt = null;
  }
}

export const shown = (tally: Tally): string =>
  [
    tally.subject.padEnd(28),
    String(tally.faults).padStart(8),
    String(tally.good).padStart(9),
    String(tally.flagged).padStart(8),
    String(tally.wrong).padStart(7),
    `${((100 * tally.wrong) / tally.faults).toFixed(3)} %`.padStart(10),
    String(tally.keptOut).padStart(9),
    `${tally.slowest.toFixed(2)} (${tally.slowestBy ?? '-'})`.padStart(30),
    Object.entries(tally.wrongBy).map(([kind, n]) => `${kind} ${n}`).join(', '),
  ].join(' ');

import type { Mark } from '../core/trace.js';

/** How long a link is trusted, and how often it is tried again. All in s. */
export interface LinkRules {
  /** Silence is `silenceFactor` usual intervals, and at least this. */
  readonly silenceFloor: number;
  readonly silenceFactor: number;
  /** A link that opens but brings nothing is closed after this; doubled each time up to `patienceCap`. */
  readonly patience: number;
  readonly patienceCap: number;
  /** Wait before the first new attempt; doubled each time up to `backoffCap`, which is short: a replug must be seen soon. */
  readonly backoff: number;
  readonly backoffCap: number;
  /** Known in advance for a slow instrument; otherwise it is taken from the readings. */
  readonly usualInterval?: number;
}

export const linkRules: LinkRules = { silenceFloor: 2, silenceFactor: 5, patience: 5, patienceCap: 20, backoff: 0.25, backoffCap: 1 };

/**
 * `connecting` being opened, or open without a reading yet; `live` readings come; `silent` readings stopped, to be opened
 * again; `waiting` not open, to be tried again; `busy` another program has it, to be tried again; `ended` no more data can
 * come; `stopping` no longer wanted.
 */
export type LinkPhase = 'connecting' | 'live' | 'silent' | 'waiting' | 'busy' | 'ended' | 'stopping';

/** The state of a link as people are told it. */
export interface LinkState {
  readonly kind: 'state';
  /** s, monotonic. */
  readonly time: number;
  readonly state: LinkPhase;
  readonly text: string;
}

/** What the machine wants done. */
export interface LinkActions {
  open(): void;
  close(): void;
  tell(item: LinkState | { readonly kind: 'mark'; readonly mark: Mark }): void;
}

/** Intervals that the usual one is taken over. Their mean, because an adapter may hand out readings in bunches. */
const intervals = 32;

/** One link, one state. Knows no clock, no port and no timer: time and failures come in, actions go out. */
export class LinkMachine {
  #phase: LinkPhase = 'connecting';
  #openedAt = 0;
  #retryAt = 0;
  #failures = 0;
  #fruitless = 0;
  #lastData: number | null = null;
  #lostTold = false;
  #told = '';
  readonly #arrivals: number[] = [];

  constructor(
    private readonly where: string,
    private readonly actions: LinkActions,
    private readonly rules: LinkRules = linkRules,
  ) {}

  get phase(): LinkPhase {
    return this.#phase;
  }

  /** s, the usual time between readings; `null` before it is known. */
  get usualInterval(): number | null {
    const [first] = this.#arrivals;
    const last = this.#arrivals.at(-1);
    if (this.rules.usualInterval !== undefined) return this.rules.usualInterval;
    return first === undefined || last === undefined || this.#arrivals.length < 3 ? null : (last - first) / (this.#arrivals.length - 1);
  }

  start(time: number): void {
    this.#tell(time, 'connecting', `opening ${this.where}`);
    this.#open(time);
  }

  /** The link is open. */
  opened(time: number): void {
    if (this.#phase !== 'connecting') return;
    this.#openedAt = time;
    this.#tell(time, 'connecting', `${this.where} is open; waiting for the first reading`);
  }

  /** Something came that an instrument sent. */
  data(time: number): void {
    if (this.#phase !== 'connecting' && this.#phase !== 'live') return;
    if (this.#phase === 'connecting') {
      this.#phase = 'live';
      this.#arrivals.length = 0;
      if (this.#lostTold) this.#mark(time, 'signal-back', `data come again from ${this.where}`);
      this.#lostTold = false;
      this.#tell(time, 'live', `receiving from ${this.where}`);
    }
    this.#failures = 0;
    this.#lastData = time;
    // Several lines of one chunk are one arrival.
    if (time > (this.#arrivals.at(-1) ?? -Infinity)) this.#arrivals.push(time);
    if (this.#arrivals.length > intervals) this.#arrivals.shift();
    if (this.usualInterval !== null) this.#fruitless = 0;
  }

  /** The link could not be opened or broke. A late word of a link that was given up changes nothing. */
  lost(time: number, reason: string, busy: boolean): void {
    if (this.#phase !== 'connecting' && this.#phase !== 'live') return;
    this.#signalLost(time, reason);
    this.actions.close();
    this.#wait(time, busy ? 'busy' : 'waiting', `${reason}; trying again`);
  }

  /** No more data can come. */
  ended(time: number): void {
    if (this.#phase === 'stopping') return;
    this.#signalLost(time, `${this.where} is over`);
    this.#phase = 'ended';
    this.#tell(time, 'ended', `${this.where} is over`);
  }

  stop(): void {
    this.#phase = 'stopping';
    this.actions.close();
  }

  /** s, when `at` must be called next. */
  due(): number {
    switch (this.#phase) {
      case 'connecting':
        return this.#openedAt + this.#patience();
      case 'live':
        return (this.#lastData ?? this.#openedAt) + this.#silence();
      case 'silent':
      case 'waiting':
      case 'busy':
        return this.#retryAt;
      case 'ended':
      case 'stopping':
        return Infinity;
    }
  }

  at(time: number): void {
    if (time < this.due()) return;
    if (this.#phase !== 'connecting' && this.#phase !== 'live') return this.#open(time);
    const since = this.#phase === 'live' ? (this.#lastData ?? this.#openedAt) : this.#openedAt;
    const reason = `no data from ${this.where} for ${(time - since).toFixed(1)} s`;
    if (this.usualInterval === null || this.#phase === 'connecting') this.#fruitless += 1;
    this.#signalLost(time, reason);
    this.actions.close();
    this.#wait(time, 'silent', this.#lastData === null ? `${this.where} opens, but no data come` : `no data from ${this.where}; closing and opening it again`);
  }

  #silence(): number {
    // After one or two readings nobody knows yet how slow this instrument is.
    return this.usualInterval === null ? this.#patience() : Math.max(this.rules.silenceFloor, this.rules.silenceFactor * this.usualInterval);
  }

  #patience(): number {
    const known = this.rules.silenceFactor * (this.usualInterval ?? 0);
    return Math.max(known, Math.min(this.rules.patienceCap, this.rules.patience * 2 ** Math.min(this.#fruitless, 8)));
  }

  #open(time: number): void {
    this.#phase = 'connecting';
    this.#openedAt = time;
    this.actions.open();
  }

  #wait(time: number, phase: 'silent' | 'waiting' | 'busy', text: string): void {
    this.#phase = phase;
    this.#retryAt = time + Math.min(this.rules.backoffCap, this.rules.backoff * 2 ** this.#failures);
    this.#failures = Math.min(this.#failures + 1, 16);
    this.#tell(time, phase, text);
  }

  #signalLost(time: number, text: string): void {
    if (this.#phase !== 'live') return;
    this.#lostTold = true;
    this.#mark(time, 'signal-lost', text);
  }

  #mark(time: number, kind: 'signal-lost' | 'signal-back', text: string): void {
    this.actions.tell({ kind: 'mark', mark: { time, kind, text } });
  }

  /** A cable that lies unplugged for weeks is told once, not once a second. */
  #tell(time: number, state: LinkPhase, text: string): void {
    if (`${state} ${text}` === this.#told) return;
    this.#told = `${state} ${text}`;
    this.actions.tell({ kind: 'state', time, state, text });
  }
}

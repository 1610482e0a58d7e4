import type { PressureUnit } from '../../src/core/units.js';
import { reconnectAfter, staleAfter } from '../../src/sinks/live-protocol.js';
import { browserSocket, LiveConnection } from './connection.js';
import { fetchRun, movedTo } from './earlier-run.js';
import { ageWords, Freshness } from './freshness.js';
import { showEvents, showNotices, showRuns, type ListActions } from './lists-panel.js';
import { nextState, type LiveState } from './live-state.js';
import { NowPanel } from './now-panel.js';
import { OperatorPanel } from './operator-panel.js';
import { pageClock } from './page-clock.js';
import { make, part, say } from '../shared/page-parts.js';
import { TraceBuffer } from '../shared/trace-buffer.js';
import { TracePanel } from './trace-panel.js';
import { signInAgainWhereNeeded } from '../shared/signed-in.js';
import { chosenUnit, offerUnits } from '../shared/unit-choice.js';

/** ms between looks at the age of the data. */
const lookEvery = 250;

/** One bench, live. Draws only when something has changed, and at most once in a frame. */
export class LivePage {
  readonly #buffer = new TraceBuffer();
  readonly #freshness = new Freshness();
  readonly #now = new NowPanel();
  readonly #trace = new TracePanel(this.#buffer, () => this.#changed());
  readonly #operator: OperatorPanel;
  readonly #connection: LiveConnection;
  readonly #actions: ListActions = {
    showMoment: (time) => this.#trace.showMoment(time),
    layUnder: (run) => void this.#layUnder(run),
  };
  #state: LiveState | null = null;
  #chosen: PressureUnit | null = chosenUnit();
  #under: string | null = null;
  #drawing = false;
  #wasStale = true;

  constructor(bench: string) {
    this.#operator = new OperatorPanel(bench);
    const address = `${location.protocol === 'https:' ? 'wss' : 'ws'}://${location.host}/live/socket?bench=${encodeURIComponent(bench)}`;
    this.#connection = new LiveConnection({
      open: (events) => browserSocket(address, events),
      now: pageClock,
      lastNumber: () => this.#buffer.newest,
      onLost: () => void signInAgainWhereNeeded(),
      onMessage: (message) => {
        if (message.kind === 'hello' && message.session !== this.#state?.session) {
          this.#buffer.clear();
          this.#freshness.reset();
        }
        if (message.kind === 'heartbeat') this.#freshness.heartbeat(message.health.dataAge, message.echo, pageClock());
        else this.#freshness.heard(pageClock());
        this.#state = nextState(this.#state, message);
        if (message.kind === 'setup' || message.kind === 'runs') this.#operator.refresh();
        this.#changed();
      },
      onFrame: (frame) => {
        this.#buffer.add(frame, this.#state?.setup.gap ?? 1);
        this.#freshness.samples(frame.age, pageClock());
        this.#changed();
      },
    });
    setInterval(() => this.#look(), lookEvery);
    document.addEventListener('visibilitychange', () => {
      if (document.visibilityState !== 'visible') return;
      this.#connection.wake(staleAfter * 1000);
      this.#changed();
    });
    addEventListener('online', () => this.#connection.wake(reconnectAfter * 1000));
    this.#connection.tick();
    this.#draw();
  }

  /** The age moves without any message, so it has its own beat. */
  #look(): void {
    this.#connection.tick();
    const now = pageClock();
    this.#tellLink(now);
    if (this.#freshness.stale(now) !== this.#wasStale || this.#connection.outdated) this.#changed();
  }

  #tellLink(now: number): void {
    say(part('age-words'), ageWords(this.#freshness.age(now), this.#connection.open));
    document.body.dataset['attempts'] = String(this.#connection.attempts);
  }

  #changed(): void {
    if (this.#drawing) return;
    this.#drawing = true;
    requestAnimationFrame(() => {
      this.#drawing = false;
      this.#draw();
    });
  }

  #draw(): void {
    const now = pageClock();
    const stale = this.#freshness.stale(now);
    this.#wasStale = stale;
    const unit = this.#chosen ?? this.#state?.unit ?? 'bar';
    document.body.dataset['stale'] = String(stale);
    this.#tellLink(now);
    offerUnits(this.#state?.unit ?? 'bar', unit, (chosen) => {
      this.#chosen = chosen;
      this.#changed();
    });
    this.#now.show(this.#state, stale, unit);
    showNotices(this.#state, stale, this.#connection.outdated);
    showEvents(this.#state, this.#buffer.gaps, unit, this.#actions);
    showRuns(this.#state, unit, this.#under, this.#actions);
    this.#trace.show(this.#state, unit);
    this.#operator.show(this.#state);
  }

  async #layUnder(run: string): Promise<void> {
    this.#under = this.#under === run ? null : run;
    this.#trace.layUnder(null);
    const wanted = this.#under;
    if (wanted === null || this.#state === null) return;
    const earlier = await fetchRun(this.#state.bench, wanted).catch(() => null);
    if (this.#under !== wanted) return;
    if (earlier === null) this.#under = null;
    this.#trace.layUnder(earlier && movedTo(earlier, this.#trace.runStart ?? this.#buffer.oldestTime));
  }
}

/** Links to the other benches, where there are any. */
export function offerBenches(names: readonly string[], shown: string): void {
  const list = part('benches');
  list.hidden = names.length < 2;
  list.replaceChildren(
    ...names.map((name) => {
      const link = make('a', '', name);
      link.setAttribute('href', `?bench=${encodeURIComponent(name)}`);
      if (name === shown) link.setAttribute('aria-current', 'page');
      return link;
    }),
  );
}

import type { BenchListener, NoticeNews } from '../../daemon/bench-listener.js';
import type { RunSummary } from '../../server/bench-feed.js';
import type { Alert } from './alert.js';
import { AlertRules } from './alert-rules.js';
import type { AlertSettings } from './alert-settings.js';
import { email } from './email.js';
import { Outbox, type OutboxCounts } from './outbox.js';
import type { Way } from './way.js';
import { webhook } from './webhook.js';

export interface AlertsSetup {
  readonly bench: string;
  readonly settings: AlertSettings;
  readonly ways: readonly Way[];
  /** Says on the page that alerts do not get through; `null` when they do again. */
  readonly notice: (text: string | null) => void;
  /** s, monotonic. */
  readonly now?: () => number;
  /** ms since 1970. */
  readonly wall?: () => number;
}

/** ms between two looks at what is due. */
const lookEvery = 500;

/** The ways that a bench file names. @param source the bench file, for sentences */
export const waysOf = ({ webhooks, email: mail }: AlertSettings, software: string, source: string): Way[] => [
  ...webhooks.map((settings) => webhook(settings, software, source)),
  ...(mail === undefined ? [] : [email(mail, software, source)]),
];

/** Tells people far away what a bench says, by every way that they wanted. A `BenchListener`. */
export class Alerts implements BenchListener {
  private readonly rules: AlertRules;
  private readonly outboxes: readonly Outbox[];
  private readonly now: () => number;
  private timer: NodeJS.Timeout | null = null;
  private told: string | null = null;

  constructor(private readonly setup: AlertsSetup) {
    const { bench, settings, ways, now = () => performance.now() / 1000, wall = Date.now } = setup;
    this.now = now;
    this.outboxes = ways.map((way) => new Outbox(way, now, () => this.tellTrouble()));
    this.rules = new AlertRules(bench, settings, (alert) => this.send(alert), wall);
  }

  start(): void {
    this.timer ??= setInterval(() => this.tick(), lookEvery);
  }

  noticed(news: NoticeNews): void {
    this.rules.noticed(news, this.now());
  }

  runEnded(run: RunSummary): void {
    this.rules.runEnded(run);
  }

  tick(): void {
    this.rules.tick(this.now());
    for (const outbox of this.outboxes) outbox.tick();
  }

  /** By way; for metrics. */
  counts(): readonly (OutboxCounts & { readonly way: string })[] {
    return this.outboxes.map((outbox) => ({ way: outbox.name, ...outbox.counts() }));
  }

  /** What was over before anybody needed to be told. */
  get held(): number {
    return this.rules.held;
  }

  /** Waits a moment for what is on its way; the rest is lost, but what still holds is told anew after the next start. */
  async stop(patience = 3000): Promise<void> {
    if (this.timer !== null) clearInterval(this.timer);
    this.timer = null;
    const patient = new Promise((resolve) => setTimeout(resolve, patience).unref());
    await Promise.race([Promise.all(this.outboxes.map((outbox) => outbox.rest())), patient]);
  }

  private send(alert: Alert): void {
    for (const outbox of this.outboxes) outbox.put(alert);
  }

  private tellTrouble(): void {
    const troubled = this.counts().filter(({ trouble }) => trouble !== null);
    const text = troubled.length === 0 ? null : `alerts do not get through: ${troubled.map(({ way, trouble }) => `${way}: ${trouble}`).join('; ')}`;
    if (text === this.told) return;
    this.told = text;
    this.setup.notice(text);
  }
}

import { collectDefaultMetrics, Counter, Gauge, Registry } from 'prom-client';
import type { BenchState } from './bench-state.js';

/** What the metrics are made from, asked at each scrape. */
export interface MetricSources {
  readonly benches: () => readonly BenchState[];
  readonly delays: () => { readonly median: number; readonly p99: number; readonly longest: number };
  readonly stalls: () => number;
  readonly version: string;
}

const linkStates = ['connecting', 'live', 'silent', 'waiting', 'busy', 'ended', 'stopping'] as const;
const weights = ['alarm', 'warning', 'remark'] as const;

/**
 * Metrics in the text format of Prometheus, read from the state of the benches at each scrape. Units are those of its
 * naming rules: seconds, bytes. Counters begin at 0 with the program.
 */
export class Metrics {
  private readonly registry = new Registry();
  private readonly refresh: (() => void)[] = [];
  /** As they stand at this scrape. */
  private states: readonly BenchState[] = [];

  constructor(private readonly sources: MetricSources) {
    collectDefaultMetrics({ register: this.registry });
    // The library writes 'Nan' for those before their first beat, which the format does not know; ours say the same.
    for (const { name } of this.registry.getMetricsAsArray()) if (name.startsWith('nodejs_eventloop_lag')) this.registry.removeSingleMetric(name);
    this.gauge('dwellkeeper_build_info', 'Version of the program; always 1.', ['version'], (set) => set({ version: sources.version }, 1));
    this.channels();
    this.benches();
    this.program();
  }

  get contentType(): string {
    return this.registry.contentType;
  }

  text(): Promise<string> {
    this.states = this.sources.benches();
    for (const renew of this.refresh) renew();
    return this.registry.metrics();
  }

  private channels(): void {
    const each = (tell: (labels: { bench: string; channel: string }, state: BenchState['channels'][number]) => void) => {
      for (const { bench, channels } of this.states) for (const state of channels) tell({ bench, channel: state.channel }, state);
    };
    const where = ['bench', 'channel'];
    this.counter('dwellkeeper_samples_total', 'Samples received, flagged ones too.', where, (set) => each((labels, { link }) => set(labels, link.samples)));
    this.counter('dwellkeeper_good_samples_total', 'Samples that can be used.', where, (set) => each((labels, { link }) => set(labels, link.good)));
    this.counter('dwellkeeper_faults_total', 'Samples that cannot be used, by what is wrong with them.', [...where, 'fault'], (set) =>
      each((labels, { link }) => eachOf(link.faults, (fault, count) => set({ ...labels, fault }, count))),
    );
    this.counter('dwellkeeper_dropped_lines_total', 'Lines received and not used, by reason.', [...where, 'why'], (set) =>
      each((labels, { link }) => eachOf(link.dropped, (why, count) => set({ ...labels, why }, count))),
    );
    this.counter('dwellkeeper_link_openings_total', 'How often the link was opened; one more than it was opened again.', where, (set) => each((labels, { link }) => set(labels, link.notices.opened ?? 0)));
    this.counter('dwellkeeper_signal_losses_total', 'How often readings stopped coming.', where, (set) => each((labels, { link }) => set(labels, link.signalLost)));
    this.counter('dwellkeeper_missed_polls_total', 'Questions left out because the one before was still open.', where, (set) => each((labels, { link }) => set(labels, link.notices['poll-skipped'] ?? 0)));
    this.counter('dwellkeeper_link_notices_total', 'What the instrument or its driver had to say, by code.', [...where, 'code'], (set) =>
      each((labels, { link }) => eachOf(link.notices, (code, count) => set({ ...labels, code }, count))),
    );
    this.gauge('dwellkeeper_newest_sample_age_seconds', 'Age of the newest sample; absent before the first.', where, (set) => each((labels, { age }) => age !== null && set(labels, age)));
    this.gauge('dwellkeeper_channel_silent', '1 when no reading has come for longer than the channel allows.', where, (set) => each((labels, { age, silentAfter }) => set(labels, age === null || age > silentAfter ? 1 : 0)));
    this.gauge('dwellkeeper_sample_interval_seconds', 'Mean time between the last samples.', where, (set) => each((labels, { link }) => link.interval !== null && set(labels, link.interval)));
    this.gauge('dwellkeeper_sample_interval_deviation_seconds', 'Standard deviation of that time.', where, (set) => each((labels, { link }) => link.intervalDeviation !== null && set(labels, link.intervalDeviation)));
    this.gauge('dwellkeeper_link_state', '1 for the state that the link is in.', [...where, 'state'], (set) =>
      each((labels, { state }) => linkStates.forEach((known) => set({ ...labels, state: known }, known === state ? 1 : 0))),
    );
  }

  private benches(): void {
    const each = (tell: (labels: { bench: string }, state: BenchState) => void) => {
      for (const state of this.states) tell({ bench: state.bench }, state);
    };
    this.gauge('dwellkeeper_store_writing', '1 while samples are being written.', ['bench'], (set) => each((labels, { recording }) => set(labels, recording ? 1 : 0)));
    this.gauge('dwellkeeper_store_size_bytes', 'Size of the store with its log.', ['bench'], (set) => each((labels, { storeSize }) => storeSize !== null && set(labels, storeSize)));
    this.gauge('dwellkeeper_disk_free_bytes', 'Room left for this user where the store lies.', ['bench'], (set) => each((labels, { diskFree }) => diskFree !== null && set(labels, diskFree)));
    this.counter('dwellkeeper_runs_total', 'Runs that are over, by verdict.', ['bench', 'verdict'], (set) => each((labels, { runs }) => eachOf(runs, (verdict, count) => set({ ...labels, verdict }, count))));
    this.counter('dwellkeeper_events_total', 'Events found in the signal, by kind.', ['bench', 'kind'], (set) => each((labels, { events }) => events.forEach((count, kind) => set({ ...labels, kind }, count))));
    this.gauge('dwellkeeper_notices', 'Notices on the page, by weight.', ['bench', 'weight'], (set) =>
      each((labels, { notices }) => weights.forEach((weight) => set({ ...labels, weight }, notices.filter((notice) => notice.weight === weight).length))),
    );
    this.gauge('dwellkeeper_viewers', 'Pages that watch.', ['bench'], (set) => each((labels, { viewers }) => set(labels, viewers)));
    this.counter('dwellkeeper_alerts_sent_total', 'Alerts that were taken.', ['bench', 'way'], (set) => each((labels, { alerts }) => alerts.forEach(({ way, sent }) => set({ ...labels, way }, sent))));
    this.counter('dwellkeeper_alert_attempts_failed_total', 'Attempts to send an alert that did not get through.', ['bench', 'way'], (set) => each((labels, { alerts }) => alerts.forEach(({ way, failedAttempts }) => set({ ...labels, way }, failedAttempts))));
    this.counter('dwellkeeper_alerts_given_up_total', 'Alerts that nobody got: refused, too old, or too many.', ['bench', 'way'], (set) => each((labels, { alerts }) => alerts.forEach(({ way, givenUp }) => set({ ...labels, way }, givenUp))));
    this.gauge('dwellkeeper_alerts_waiting', 'Alerts that wait to be sent.', ['bench', 'way'], (set) => each((labels, { alerts }) => alerts.forEach(({ way, waiting }) => set({ ...labels, way }, waiting))));
    this.counter('dwellkeeper_alerts_held_total', 'Notices that were over before anybody needed to be told.', ['bench'], (set) => each((labels, { alertsHeld }) => set(labels, alertsHeld)));
    const forwarded = (tell: (labels: { bench: string; target: string }, state: BenchState['forwarders'][number]) => void) =>
      each((labels, { forwarders }) => forwarders.forEach((state) => tell({ ...labels, target: state.target }, state)));
    this.gauge('dwellkeeper_forwarder_backlog_bytes', 'What waits on the disk to be forwarded.', ['bench', 'target'], (set) => forwarded((labels, { backlog }) => set(labels, backlog)));
    this.gauge('dwellkeeper_forwarder_oldest_seconds', 'Age of the oldest that waits; absent when nothing does.', ['bench', 'target'], (set) => forwarded((labels, { oldest }) => oldest !== null && set(labels, oldest)));
    this.gauge('dwellkeeper_forwarder_reachable', '1 while the other side answers.', ['bench', 'target'], (set) => forwarded((labels, { reachable }) => set(labels, reachable ? 1 : 0)));
    this.counter('dwellkeeper_forwarder_delivered_total', 'Points that the other side has.', ['bench', 'target'], (set) => forwarded((labels, { delivered }) => set(labels, delivered)));
    this.counter('dwellkeeper_forwarder_rejected_total', 'Points that the other side refused for good.', ['bench', 'target'], (set) => forwarded((labels, { rejected }) => set(labels, rejected)));
    this.counter('dwellkeeper_forwarder_dropped_total', 'Points that were never sent and never will be.', ['bench', 'target'], (set) => forwarded((labels, { dropped }) => set(labels, dropped)));
    this.counter('dwellkeeper_forwarder_thinned_total', 'Samples left out of the oldest part of a long backlog.', ['bench', 'target'], (set) => forwarded((labels, { thinned }) => set(labels, thinned)));
  }

  private program(): void {
    this.gauge('dwellkeeper_event_loop_delay_seconds', 'How late the program does things, since the last scrape.', ['quantile'], (set) => {
      const { median, p99, longest } = this.sources.delays();
      set({ quantile: '0.5' }, median);
      set({ quantile: '0.99' }, p99);
      set({ quantile: '1' }, longest);
    });
    this.counter('dwellkeeper_event_loop_stalls_total', 'How often the program stood still for more than a second.', [], (set) => set({}, this.sources.stalls()));
  }

  private gauge(name: string, help: string, labelNames: readonly string[], renew: (set: (labels: Record<string, string>, value: number) => void) => void): void {
    const gauge = new Gauge({ name, help, labelNames: [...labelNames], registers: [this.registry] });
    this.refresh.push(() => {
      gauge.reset();
      renew((labels, value) => gauge.set(labels, value));
    });
  }

  /** The totals are kept elsewhere; a counter of this library can only be added to. */
  private counter(name: string, help: string, labelNames: readonly string[], renew: (set: (labels: Record<string, string>, total: number) => void) => void): void {
    const counter = new Counter({ name, help, labelNames: [...labelNames], registers: [this.registry] });
    this.refresh.push(() => {
      counter.reset();
      renew((labels, total) => counter.inc(labels, total));
    });
  }
}

function eachOf<Key extends string>(counts: Readonly<Partial<Record<Key, number>>>, tell: (key: Key, count: number) => void): void {
  for (const [key, count] of Object.entries(counts) as [Key, number | undefined][]) if (count !== undefined) tell(key, count);
}

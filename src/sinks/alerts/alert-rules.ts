import type { NoticeNews } from '../../daemon/bench-listener.js';
import type { RunSummary } from '../../server/bench-feed.js';
import type { Alert } from './alert.js';
import type { AlertSettings } from './alert-settings.js';

/** One subject that is, or lately was, on the board. */
interface Subject {
  weight: NoticeNews['weight'];
  text: string;
  /** s: since when it is so; `null` once it is over. */
  since: number | null;
  /** s: when it was last told; `null` while it never was. */
  toldAt: number | null;
  /** What was last told, while its end has not been. */
  told: string | null;
  /** The loudest weight that was told of it. */
  loudest: NoticeNews['weight'] | null;
}

const order = { alarm: 0, warning: 1, remark: 2 } as const;
/** Subjects remembered; the board has some twenty. */
const subjectsAtMost = 200;

/**
 * Decides what is told: what lasts a while, each subject seldom, again after a day, and its end. Knows no clock and sends
 * nothing: times come in (s, monotonic), alerts go out.
 */
export class AlertRules {
  private readonly subjects = new Map<string, Subject>();
  private readonly runsTold: string[] = [];
  /** Beginnings that were over before they were told. */
  held = 0;

  constructor(
    private readonly bench: string,
    private readonly settings: AlertSettings,
    private readonly send: (alert: Alert) => void,
    /** ms since 1970. */
    private readonly wall: () => number,
  ) {}

  noticed({ subject, weight, text }: NoticeNews, now: number): void {
    const known = this.subjects.get(subject);
    if (text === null) {
      if (known) this.over(subject, known, now);
      return;
    }
    if (!this.isWanted(subject, weight)) {
      if (known) this.over(subject, known, now);
      return;
    }
    if (!known && this.subjects.size >= subjectsAtMost) this.forget();
    const entry = known ?? { weight, text, since: null, toldAt: null, told: null, loudest: null };
    entry.since ??= now;
    entry.weight = weight;
    entry.text = text;
    this.subjects.set(subject, entry);
    this.look(subject, entry, now);
  }

  runEnded(run: RunSummary): void {
    if (!this.settings.runs.includes(run.verdict)) return;
    // A run that waited for the store is told a second time once it is on record.
    const identity = `${run.session} ${run.from}`;
    if (this.runsTold.includes(identity)) return;
    this.runsTold.push(identity);
    if (this.runsTold.length > 50) this.runsTold.shift();
    const reason = run.reasons[0];
    const words = { pass: 'passed', fail: 'failed', inconclusive: 'is inconclusive' } as const;
    this.send({
      bench: this.bench, subject: 'run', state: 'told', weight: run.verdict === 'fail' ? 'warning' : 'remark', wall: run.wall,
      text: `run ${run.id}${run.plan === null ? '' : ` (${run.plan})`} ${words[run.verdict]}${reason === undefined ? '' : `: ${reason}`}`,
    });
  }

  /** Call about once a second. */
  tick(now: number): void {
    for (const [subject, entry] of this.subjects) this.look(subject, entry, now);
  }

  private look(subject: string, entry: Subject, now: number): void {
    const { after, atMostEvery, remindEvery } = this.settings;
    const { since, toldAt, told, loudest, weight, text } = entry;
    if (since === null) {
      if (toldAt === null || now - toldAt >= atMostEvery) this.subjects.delete(subject);
      return;
    }
    if (now - since < after) return;
    if (told === null) {
      if (toldAt === null || now - toldAt >= atMostEvery) this.tell(subject, entry, 'begun', now);
      return;
    }
    if (toldAt === null) return;
    const worse = loudest !== null && order[weight] < order[loudest];
    if (worse || (text !== told && now - toldAt >= atMostEvery)) this.tell(subject, entry, 'begun', now);
    else if (now - toldAt >= remindEvery) this.tell(subject, entry, 'still', now);
  }

  private over(subject: string, entry: Subject, now: number): void {
    if (entry.since === null) return;
    entry.since = null;
    if (entry.told === null) {
      this.held++;
      if (entry.toldAt === null) this.subjects.delete(subject);
      return;
    }
    this.send({ bench: this.bench, subject, state: 'over', weight: entry.loudest ?? entry.weight, text: entry.told, wall: this.wall() });
    entry.told = null;
    entry.loudest = null;
    entry.toldAt = now;
  }

  private tell(subject: string, entry: Subject, state: 'begun' | 'still', now: number): void {
    const { weight, text, since } = entry;
    const begun = this.wall() - (now - (since ?? now)) * 1000;
    this.send({ bench: this.bench, subject, state, weight, text, wall: begun });
    entry.toldAt = now;
    entry.told = text;
    entry.loudest = weight;
  }

  private isWanted(subject: string, weight: NoticeNews['weight']): boolean {
    // Whether alerts get through is no news for those whom they do not reach.
    return subject !== ownSubject && this.settings.weights.includes(weight) && (this.settings.subjects?.includes(subject) ?? true);
  }

  private forget(): void {
    const [oldest] = this.subjects.keys();
    if (oldest !== undefined) this.subjects.delete(oldest);
  }
}

/** The notice that alerts cannot be delivered. */
export const ownSubject = 'alerts';

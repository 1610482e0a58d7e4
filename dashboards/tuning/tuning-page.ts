import type { Thresholds } from '../../src/core/thresholds.js';
import { barPer, pressureUnitOf, type PressureUnit } from '../../src/core/units.js';
import type { RunChange } from '../../src/tuning/run-change.js';
import { part, say } from '../shared/page-parts.js';
import { chosenUnit, offerUnits } from '../shared/unit-choice.js';
import { ChangeHistory } from './change-history.js';
import { FlipPanel, summaryOf, type FlipRow } from './flip-panel.js';
import { KeepPanel } from './keep-panel.js';
import { LabelPanel } from './label-panel.js';
import { LibraryCheck } from './library-check.js';
import { NoisePanel } from './noise-panel.js';
import { OutcomePanel } from './outcome-panel.js';
import { PlotPanel } from './plot-panel.js';
import { ReadingClient, type Port } from './reading-client.js';
import type { LoadedRun, ReadTwice } from './reading-messages.js';
import { readFiles, type GivenFile } from './run-files.js';
import { idOf, numberOf, RunShelf } from './run-shelf.js';
import { RunTray, type TrayRun } from './run-tray.js';
import { controlOf, type ThresholdKey } from './threshold-controls.js';
import { ThresholdPanel } from './threshold-panel.js';
import { changed, numberIn, numberOnSlider, problemWith, shareOnSlider, unitOf, writtenAs } from './threshold-values.js';
import { TradeOffPanel } from './trade-off-panel.js';
import { textWith, type InForce, type TuningApi } from './tuning-api.js';

/** ms of rest after a change before all ticked runs are read again. */
const rest = 120;

/** The page where an engineer tries thresholds on recorded runs. */
export class TuningPage {
  private readonly history = new ChangeHistory();
  private readonly runs: RunShelf;
  private readonly picked = new Set<string>();
  private readonly truths = new Map<string, FlipRow['truth']>();
  private tray: TrayRun[] = [];
  private more: number | null = null;
  private shown: string | null = null;
  private result: ReadTwice | null = null;
  private unit: PressureUnit;
  private changes = new Map<string, RunChange>();
  private sweeping: { done: number; of: number } | null = null;
  private library: LibraryCheck | null = null;
  private scope: 'picked' | 'library' = 'picked';
  private resting: ReturnType<typeof setTimeout> | undefined;
  private readonly client: ReadingClient;
  private readonly panel: ThresholdPanel;
  private readonly plot: PlotPanel;
  private readonly noise = new NoisePanel();
  private readonly outcome = new OutcomePanel();
  private readonly flips = new FlipPanel((id) => void this.show(id));
  private readonly keep: KeepPanel;
  private readonly labels: LabelPanel;
  private readonly list: RunTray;
  private readonly tradeOff: TradeOffPanel;

  constructor(private readonly api: TuningApi, private inForce: InForce, private readonly own: PressureUnit, worker: Port) {
    this.unit = chosenUnit() ?? own;
    this.client = new ReadingClient(worker, {
      read: (result) => {
        this.result = result;
        this.drawReading();
      },
      swept: (id, change, done, of) => {
        this.changes.set(id, change);
        this.sweeping = done === of ? null : { done, of };
        this.drawFlips();
      },
      failed: (id, sentence) => this.trouble(`${this.titleOf(id)}: ${sentence}`),
    });
    this.runs = new RunShelf(api, this.client);
    this.panel = new ThresholdPanel({
      set: (key, text, gesture) => {
        this.change(() => this.history.set(key, text, gesture));
        if (text !== null) this.tradeOff.choose(key);
      },
      endGesture: () => this.history.endGesture(),
      undo: () => this.change(() => this.history.undo()),
      redo: () => this.change(() => this.history.redo()),
      reset: () => this.change(() => this.history.replace({})),
    });
    this.plot = new PlotPanel({
      move: (key, value, gesture) => this.moved(key, value, gesture),
      step: (key, by) => this.stepped(key, by),
      endGesture: () => this.history.endGesture(),
      words: (key) => this.wordsOf(key),
    }, (event) => this.labels.look(event));
    this.keep = new KeepPanel(api, {
      changes: () => this.history.now,
      saved: (now) => this.change(() => {
        this.inForce = now;
        this.history.replace({});
      }),
      theirs: (now) => this.change(() => (this.inForce = now)),
    });
    this.labels = new LabelPanel(api, () => this.keep.name, (run, { truth }) => {
      this.truths.set(idOf(run), truth);
      this.drawFlips();
    });
    this.list = new RunTray({
      show: (id) => void this.show(id),
      pick: (ids, on) => this.pick(ids, on),
      pickOnly: (ids) => {
        this.picked.clear();
        this.pick(ids, true);
      },
      older: () => void this.fetchRuns(),
    });
    this.tradeOff = new TradeOffPanel(api.base, () => this.candidate, (key, text) => this.change(() => this.history.set(key, text)));
    this.follow();
  }

  /** Fills the page. */
  async start(): Promise<void> {
    this.drawAll();
    await this.fetchRuns();
    const newest = this.tray.find(({ readable }) => readable);
    if (newest !== undefined) await this.show(newest.id);
  }

  private follow(): void {
    document.addEventListener('keydown', (event) => {
      if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
      const key = event.key.toLowerCase();
      const typing = event.target instanceof HTMLInputElement && event.target.type !== 'range' && event.target.type !== 'checkbox' && event.target.type !== 'radio';
      if (typing || (key !== 'z' && key !== 'y')) return;
      event.preventDefault();
      this.change(() => (key === 'y' || event.shiftKey ? this.history.redo() : this.history.undo()));
    });
    const drop = part('drop') as HTMLDetailsElement;
    document.addEventListener('dragover', (event) => {
      event.preventDefault();
      drop.open = true;
      drop.classList.add('over');
    });
    document.addEventListener('dragleave', () => drop.classList.remove('over'));
    document.addEventListener('drop', (event) => {
      event.preventDefault();
      drop.classList.remove('over');
      void this.takeFiles([...(event.dataTransfer?.files ?? [])]);
    });
    const files = part('files') as HTMLInputElement;
    files.addEventListener('change', () => void this.takeFiles([...(files.files ?? [])]).then(() => (files.value = '')));
    for (const radio of document.querySelectorAll<HTMLInputElement>('input[name="scope"]')) {
      radio.addEventListener('change', () => {
        this.scope = radio.value === 'library' ? 'library' : 'picked';
        this.drawFlips();
      });
    }
    part('judge-library').addEventListener('click', () => void this.judgeAll());
    part('cancel').addEventListener('click', () => this.cancel());
  }

  // Runs

  private async fetchRuns(): Promise<void> {
    try {
      const { runs, more } = await this.api.runs(this.more);
      this.more = more;
      this.tray = [
        ...this.tray,
        ...runs.map(({ run, wall, verdict, plan, hose, order, truth, readable }): TrayRun => {
          this.truths.set(idOf(run), truth);
          return { id: idOf(run), title: `Run ${run}`, wall, verdict, about: [plan ?? 'no plan', hose, order === null ? null : `order ${order}`].filter((word) => word !== null).join(' · '), readable };
        }),
      ];
    } catch (error) {
      this.trouble(error);
    }
    this.drawTray();
  }

  /** @returns whether it is loaded */
  private async load(id: string): Promise<boolean> {
    const loaded = this.runs.load(id);
    this.drawTray();
    try {
      return await loaded;
    } catch (error) {
      this.picked.delete(id);
      this.trouble(error);
      return false;
    } finally {
      this.drawTray();
    }
  }

  private pick(ids: readonly string[], on: boolean): void {
    for (const id of ids) {
      if (on) this.picked.add(id);
      else this.picked.delete(id);
    }
    this.drawTray();
    this.sweep();
    if (on) void this.loadPicked();
  }

  /** One after the other, so that the bench is not asked for all at once. */
  private async loadPicked(): Promise<void> {
    for (const id of [...this.picked]) {
      if (!this.picked.has(id) || this.runs.has(id)) continue;
      if (await this.load(id)) this.sweep();
    }
  }

  private async show(id: string): Promise<void> {
    this.shown = id;
    this.drawTray();
    if (!(await this.load(id)) || this.shown !== id) return;
    this.result = null;
    this.labels.show(numberOf(id));
    this.labels.look(null);
    this.drawAll();
    this.read();
    if (!this.picked.has(id)) this.pick([id], true);
  }

  private async takeFiles(files: readonly File[]): Promise<void> {
    if (files.length === 0) return;
    const given = files.map((file): GivenFile => ({ name: file.name, bytes: async () => new Uint8Array(await file.arrayBuffer()) }));
    const { runs, problems } = await readFiles(given, this.inForce.thresholds);
    this.trouble(problems.length === 0 ? null : problems.join('\n'));
    for (const run of runs) {
      try {
        this.runs.hold(run);
      } catch (error) {
        this.trouble(error);
        continue;
      }
      this.tray = [{ id: run.id, title: run.id, wall: null, verdict: null, about: `${run.plan?.plan ?? 'no plan'} · from a file`, readable: true }, ...this.tray.filter(({ id }) => id !== run.id)];
      this.picked.add(run.id);
    }
    const [first] = runs;
    if (first === undefined) return this.drawTray();
    this.sweep();
    await this.show(first.id);
  }

  private startOf(id: string): number | null {
    return this.runs.get(id)?.trace.time[0] ?? null;
  }

  private titleOf(id: string): string {
    return this.tray.find((run) => run.id === id)?.title ?? id.replace(/^r/, 'R');
  }

  // Thresholds

  private get candidate(): Thresholds {
    return changed(this.inForce.thresholds, this.history.now);
  }

  private change(act: () => unknown): void {
    act();
    this.drawSettings();
    this.drawPlot();
    this.read();
    clearTimeout(this.resting);
    this.resting = setTimeout(() => this.sweep(), rest);
  }

  /** From the plot: a value in s, bar or bar/s, written in the unit in which the threshold stands. */
  private moved(key: ThresholdKey, value: number, gesture: string): void {
    const { unit: own } = controlOf(key);
    const unit = unitOf(this.candidate[key], own, this.unit);
    const number = unit === 'ms' ? value * 1000 : unit === 's' ? value : numberIn({ kind: 'pressure', value }, unit, this.plot.testPressure);
    const text = writtenAs(Number(number.toPrecision(3)), unit);
    if (problemWith(key, text) === null) this.change(() => this.history.set(key, text, gesture));
  }

  private stepped(key: ThresholdKey, by: number): void {
    const { unit: own, usual } = controlOf(key);
    const unit = unitOf(this.candidate[key], own, this.unit);
    const now = numberIn(this.candidate[key], unit, this.plot.testPressure);
    const scale = unit === own ? 1 : now / numberIn(this.candidate[key], own, this.plot.testPressure);
    const ends = [usual[0] * scale, usual[1] * scale] as const;
    const next = numberOnSlider(Math.min(Math.max(shareOnSlider(now, ends) + by / 100, 0), 1), ends);
    const text = writtenAs(next, unit);
    if (problemWith(key, text) === null) this.change(() => this.history.set(key, text, `keys ${key}`));
  }

  private wordsOf(key: ThresholdKey): string {
    const unit = unitOf(this.candidate[key], controlOf(key).unit, this.unit);
    return `${numberIn(this.candidate[key], unit, this.plot.testPressure)} ${unit}`;
  }

  // Reading

  private read(): void {
    if (this.shown !== null && this.runs.has(this.shown)) this.client.read(this.shown, this.candidate);
  }

  private sweep(): void {
    const ids = [...this.picked].filter((id) => this.runs.has(id));
    for (const id of [...this.changes.keys()]) if (!ids.includes(id)) this.changes.delete(id);
    this.sweeping = ids.length === 0 ? null : { done: 0, of: ids.length };
    if (ids.length === 0) this.client.stopSweep();
    else this.client.sweep(ids, this.candidate);
    this.drawFlips();
  }

  private async judgeAll(): Promise<void> {
    this.library?.stop();
    const library = new LibraryCheck(this.api.base, (id) => this.startOf(id), () => {
      if (this.library === library) this.drawFlips();
    });
    this.library = library;
    this.drawFlips();
    await library.judge(textWith(this.inForce, this.history.now));
  }

  private cancel(): void {
    if (this.scope === 'library') return this.library?.stop();
    this.client.stopSweep();
    this.sweeping = null;
    this.drawFlips();
  }

  // Drawing

  private drawAll(): void {
    offerUnits(this.own, this.unit, (unit) => {
      this.unit = unit;
      this.drawAll();
    });
    this.drawTray();
    this.drawSettings();
    this.drawReading();
    this.drawFlips();
  }

  private drawTray(): void {
    this.list.draw(this.tray, this.picked, this.runs.loading, this.shown, this.more !== null);
  }

  private drawSettings(): void {
    const { history, inForce } = this;
    const version = inForce.version === null || inForce.version === 0 ? '' : `, version ${inForce.version}`;
    say(part('in-force'), `Thresholds in force: ${inForce.thresholds.thresholds}${version}${inForce.chosen === null ? '' : `: ${inForce.chosen}`}`);
    this.panel.draw({ base: inForce.thresholds, candidate: this.candidate, changes: history.now, canUndo: history.canUndo, canRedo: history.canRedo, testPressure: this.plot.testPressure, unit: this.unit });
    this.keep.draw(inForce, history.now);
  }

  private get run(): LoadedRun | null {
    return this.shown === null ? null : this.runs.get(this.shown);
  }

  private drawPlot(): void {
    const { run, result } = this;
    if (run !== null) this.plot.show({ run, found: result?.id === run.id ? result.after : [], thresholds: this.candidate, unit: this.unit });
  }

  private drawReading(): void {
    const { run } = this;
    const result = run !== null && this.result?.id === run.id ? this.result : null;
    if (run !== null) {
      say(part('reading-title'), `${this.titleOf(run.id)}, ${run.plan?.plan ?? 'no plan'}`);
      say(part('state'), result === null ? 'reading…' : '');
      this.drawPlot();
      const found = result?.after ?? [];
      this.noise.draw(run, found.flatMap(({ holds }) => holds).find(({ curve }) => curve !== null) ?? null, found.flatMap(({ outcome }) => outcome.events), this.unit);
    }
    part('plot').dataset['read'] = result === null ? '' : result.id;
    say(part('unlike'), result?.unlikeRecord ?? '');
    part('unlike').hidden = result?.unlikeRecord == null;
    this.outcome.draw(result, run?.trace.time[0] ?? 0, this.unit, run?.instrument?.resolution ?? null);
  }

  private drawFlips(): void {
    const whole = this.scope === 'library';
    part('judge-library').hidden = !whole;
    if (whole) {
      const { library } = this;
      const going = library?.going === true;
      const rows = library?.rows ?? [];
      const words = library === null ? 'Every run on record, judged on the bench with the thresholds as they stand here.' : going ? `${library.done} of ${library.of} judged` : `${library.ended ?? ''} ${summaryOf(rows)}`.trim();
      return this.flips.draw(rows, this.unit, words, going ? { done: library.done, of: library.of } : null);
    }
    const rows = [...this.picked].flatMap((id): FlipRow[] => {
      const change = this.changes.get(id);
      return change === undefined ? [] : [{ id, title: this.titleOf(id), change, truth: this.truths.get(id) ?? null, start: this.startOf(id), byThresholds: true }];
    });
    this.flips.draw(rows, this.unit, this.sweeping === null ? summaryOf(rows) : `${this.sweeping.done} of ${this.sweeping.of} judged`, this.sweeping);
  }

  private trouble(what: unknown): void {
    const sentence = what === null ? '' : typeof what === 'string' ? what : what instanceof Error ? what.message : 'Something went wrong on this page.';
    part('problem').hidden = sentence === '';
    say(part('problem'), sentence);
  }
}

/** A unit of the bench that the page knows how to show. */
export const unitOfBench = (text: string): PressureUnit => {
  const unit = pressureUnitOf(text) ?? 'bar';
  return barPer(unit) > 0 ? unit : 'bar';
};

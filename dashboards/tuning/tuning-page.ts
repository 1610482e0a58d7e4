import type { Thresholds } from '../../src/core/thresholds.js';
import { barPer, pressureUnitOf, type PressureUnit } from '../../src/core/units.js';
import { pressureText } from '../shared/figures.js';
import { part, say } from '../shared/page-parts.js';
import { chosenUnit, offerUnits } from '../shared/unit-choice.js';
import { ChangeHistory } from './change-history.js';
import { FlipDesk } from './flip-desk.js';
import { KeepPanel, type SaveTarget } from './keep-panel.js';
import { LabelPanel } from './label-panel.js';
import { PlanPanel } from './plan-panel.js';
import { planFor, type PlanLimit } from './plan-values.js';
import { limitIn, type HandleKey } from './plot-handles.js';
import { NoisePanel } from './noise-panel.js';
import { OutcomePanel } from './outcome-panel.js';
import { PlotPanel } from './plot-panel.js';
import { ReadingClient, type Port } from './reading-client.js';
import { zeroOf, type LoadedRun, type ReadTwice, type Tried } from './reading-messages.js';
import { readFiles, type GivenFile } from './run-files.js';
import { idOf, numberOf, RunShelf } from './run-shelf.js';
import { RunTray, type TrayRun } from './run-tray.js';
import { controlOf, type ThresholdKey } from './threshold-controls.js';
import { ThresholdPanel } from './threshold-panel.js';
import { changed, numberIn, numberOnSlider, problemWith, shareOnSlider, unitOf, writtenAs } from './threshold-values.js';
import { TradeOffPanel } from './trade-off-panel.js';
import { thresholdsTarget } from './thresholds-target.js';
import { changesOf, countOf, trialOf, type TrialChanges } from './trial-changes.js';
import { textWith, type InForce, type TuningApi } from './tuning-api.js';

/** ms of rest after a change before all ticked runs are read again. */
const rest = 120;

/** The page where an engineer tries thresholds and plans on recorded runs. */
export class TuningPage {
  private readonly history = new ChangeHistory();
  private readonly runs: RunShelf;
  private readonly picked = new Set<string>();
  private tray: TrayRun[] = [];
  private more: number | null = null;
  private shown: string | null = null;
  private result: ReadTwice | null = null;
  private unit: PressureUnit;
  private side: 'thresholds' | 'plan' = 'thresholds';
  private resting: ReturnType<typeof setTimeout> | undefined;
  private readonly client: ReadingClient;
  private readonly panel: ThresholdPanel;
  private readonly plot: PlotPanel;
  private readonly noise = new NoisePanel();
  private readonly outcome = new OutcomePanel();
  private readonly flips: FlipDesk;
  private readonly planPanel: PlanPanel;
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
      swept: (id, change, done, of) => this.flips.swept(id, change, done, of),
      failed: (id, sentence) => this.trouble(`${this.titleOf(id)}: ${sentence}`),
    });
    this.runs = new RunShelf(api, this.client);
    this.flips = new FlipDesk(api.base, this.client, this.flipView());
    this.planPanel = this.makePlanPanel();
    this.panel = new ThresholdPanel({
      set: (key, text, gesture) => {
        this.change(() => this.history.set(key, text, gesture));
        if (text !== null) this.tradeOff.choose(key);
      },
      refused: () => this.drawKeep(),
      endGesture: () => this.history.endGesture(),
      undo: () => this.change(() => this.history.undo()),
      redo: () => this.change(() => this.history.redo()),
      reset: () => this.change(() => this.history.replace({})),
    });
    this.plot = new PlotPanel({
      move: (key, value, gesture) => this.moved(key, value, gesture),
      label: (key) => this.labelOf(key),
      step: (key, by) => this.stepped(key, by),
      endGesture: () => this.history.endGesture(),
      words: (key) => this.wordsOf(key),
    }, (event) => this.labels.look(event));
    this.keep = new KeepPanel(api);
    this.labels = new LabelPanel(api, () => this.keep.name, (run, { truth }) => {
      this.flips.truths.set(idOf(run), truth);
      this.flips.draw();
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
    this.followSides();
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
  }

  private followSides(): void {
    for (const radio of document.querySelectorAll<HTMLInputElement>('input[name="side"]')) {
      radio.addEventListener('change', () => {
        this.side = radio.value === 'plan' ? 'plan' : 'thresholds';
        part('controls').hidden = this.side === 'plan';
        part('plan-side').hidden = this.side === 'thresholds';
        this.keep.clear();
        this.drawSettings();
        if (this.side === 'plan') void this.planPanel.offer(this.run?.plan?.plan ?? null);
      });
    }
  }

  private makePlanPanel(): PlanPanel {
    return new PlanPanel(this.api, {
      choose: (planKey) => this.change(() => this.history.replace(changesOf({ ...this.trial, planKey, plan: {} }))),
      change: (plan) => this.change(() => this.history.replace(changesOf({ ...this.trial, plan }))),
      moved: () => this.change(() => undefined),
      refused: () => this.drawKeep(),
      trouble: (error) => this.trouble(error),
    });
  }

  private flipView(): ConstructorParameters<typeof FlipDesk>[2] {
    // Asked for at each use: all of it changes.
    const page = (): TuningPage => this;
    return {
      get unit() { return page().unit; },
      get ids() { return [...page().picked].filter((id) => page().runs.has(id)); },
      get tried() { return page().tried; },
      get trial() { return page().libraryTrial; },
      titleOf: (id) => this.titleOf(id),
      startOf: (id) => this.startOf(id),
      show: (id) => void this.show(id),
    };
  }

  // Runs

  private async fetchRuns(): Promise<void> {
    try {
      const { runs, more } = await this.api.runs(this.more);
      this.more = more;
      this.tray = [
        ...this.tray,
        ...runs.map(({ run, wall, verdict, plan, hose, order, truth, readable }): TrayRun => {
          this.flips.truths.set(idOf(run), truth);
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
    this.flips.sweep();
    if (on) void this.loadPicked();
  }

  /** One after the other, so that the bench is not asked for all at once. */
  private async loadPicked(): Promise<void> {
    for (const id of [...this.picked]) {
      if (!this.picked.has(id) || this.runs.has(id)) continue;
      if (await this.load(id)) this.flips.sweep();
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
    this.flips.sweep();
    await this.show(first.id);
  }

  private startOf(id: string): number | null {
    const run = this.runs.get(id);
    return run === null ? null : zeroOf(run);
  }

  private titleOf(id: string): string {
    return this.tray.find((run) => run.id === id)?.title ?? id.replace(/^r/, 'R');
  }

  // Thresholds

  private get trial(): TrialChanges {
    return trialOf(this.history.now);
  }

  private get candidate(): Thresholds {
    return changed(this.inForce.thresholds, this.trial.thresholds);
  }

  private get tried(): Tried {
    return { thresholds: this.candidate, trial: this.planPanel.onTrial };
  }

  private get libraryTrial() {
    const { onTrial } = this.planPanel;
    return { thresholds: textWith(this.inForce, this.trial.thresholds), ...(onTrial !== null && { plan: this.planPanel.text, ...(onTrial.of !== null && { of: onTrial.of }) }) };
  }

  private change(act: () => unknown): void {
    act();
    this.drawSettings();
    this.drawPlot();
    this.read();
    clearTimeout(this.resting);
    this.resting = setTimeout(() => this.flips.sweep(), rest);
  }

  /** From the plot: a value in s, bar or bar/s, written in the unit in which the threshold stands. */
  private moved(key: HandleKey, value: number, gesture: string): void {
    const limit = limitIn(key);
    if (limit !== null) return this.movedLimit(limit, value, gesture);
    if (!isThreshold(key)) return;
    const { unit: own } = controlOf(key);
    const unit = unitOf(this.candidate[key], own, this.unit);
    const number = unit === 'ms' ? value * 1000 : unit === 's' ? value : numberIn({ kind: 'pressure', value }, unit, this.plot.testPressure);
    const text = writtenAs(Number(number.toPrecision(3)), unit);
    if (problemWith(key, text) === null) this.change(() => this.history.set(key, text, gesture));
  }

  private movedLimit(limit: PlanLimit, bar: number, gesture: string): void {
    const plan = this.planPanel.limitAt(limit, bar, this.unit);
    if (plan !== null) this.change(() => this.history.replace(changesOf({ ...this.trial, plan }), gesture));
  }

  private stepped(key: HandleKey, by: number): void {
    const limit = limitIn(key);
    // A five-hundredth of the test pressure: about a pixel of the plot.
    if (limit !== null) return this.movedLimit(limit, (this.planPanel.onTrial?.plan[limit] ?? 0) + (by * this.plot.testPressure) / 500, `keys ${key}`);
    if (!isThreshold(key)) return;
    const { unit: own, usual } = controlOf(key);
    const unit = unitOf(this.candidate[key], own, this.unit);
    const now = numberIn(this.candidate[key], unit, this.plot.testPressure);
    const scale = unit === own ? 1 : now / numberIn(this.candidate[key], own, this.plot.testPressure);
    const ends = [usual[0] * scale, usual[1] * scale] as const;
    const next = numberOnSlider(Math.min(Math.max(shareOnSlider(now, ends) + by / 100, 0), 1), ends);
    const text = writtenAs(next, unit);
    if (problemWith(key, text) === null) this.change(() => this.history.set(key, text, `keys ${key}`));
  }

  private labelOf(key: HandleKey): string {
    const limit = limitIn(key);
    return limit !== null ? limitLabels[limit] : isThreshold(key) ? controlOf(key).label : key;
  }

  private wordsOf(key: HandleKey): string {
    const limit = limitIn(key);
    if (limit !== null) return pressureText(this.planPanel.onTrial?.plan[limit] ?? null, this.unit, null);
    if (!isThreshold(key)) return '';
    const unit = unitOf(this.candidate[key], controlOf(key).unit, this.unit);
    return `${numberIn(this.candidate[key], unit, this.plot.testPressure)} ${unit}`;
  }

  // Reading

  private read(): void {
    if (this.shown !== null && this.runs.has(this.shown)) this.client.read(this.shown, this.tried);
  }

  // Drawing

  private drawAll(): void {
    offerUnits(this.own, this.unit, (unit) => {
      this.unit = unit;
      this.planPanel.showIn(unit);
      this.drawAll();
    });
    this.drawTray();
    this.drawSettings();
    this.drawReading();
    this.flips.draw();
  }

  private drawTray(): void {
    this.list.draw(this.tray, this.picked, this.runs.loading, this.shown, this.more !== null);
  }

  private drawSettings(): void {
    const { history, inForce, trial } = this;
    const version = inForce.version === null || inForce.version === 0 ? '' : `, version ${inForce.version}`;
    say(part('in-force'), `Thresholds in force: ${inForce.thresholds.thresholds}${version}${inForce.chosen === null ? '' : `: ${inForce.chosen}`}`);
    this.panel.draw({
      base: inForce.thresholds, candidate: this.candidate, changes: trial.thresholds, count: countOf(trial), anything: Object.keys(history.now).length > 0,
      canUndo: history.canUndo, canRedo: history.canRedo, testPressure: this.plot.testPressure, unit: this.unit,
    });
    this.planPanel.draw(trial);
    this.drawKeep();
  }

  private drawKeep(): void {
    this.keep.draw(this.side === 'plan' ? this.planPanel.target(() => this.change(() => this.history.replace(changesOf({ ...this.trial, plan: {} })))) : this.thresholdsTarget());
  }

  private thresholdsTarget(): SaveTarget {
    const { thresholds, plan } = this.trial;
    const target = thresholdsTarget(this.api, this.inForce, thresholds, Object.keys(plan).length, {
      saved: (now) => this.change(() => {
        this.inForce = now;
        this.history.replace(changesOf({ ...this.trial, thresholds: {} }));
      }),
      theirs: (now) => this.change(() => (this.inForce = now)),
    });
    return { ...target, ready: target.ready && !this.panel.wrong };
  }

  private get run(): LoadedRun | null {
    return this.shown === null ? null : this.runs.get(this.shown);
  }

  private drawPlot(): void {
    const { run, result } = this;
    if (run === null) return;
    const { onTrial } = this.planPanel;
    const plan = planFor(run.plan, onTrial);
    this.plot.show({ run, plan, onTrial: onTrial !== null && plan === onTrial.plan, found: result?.id === run.id ? result.after : [], thresholds: this.candidate, unit: this.unit });
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
    this.outcome.draw(result, run === null ? 0 : zeroOf(run), this.unit, run?.instrument?.resolution ?? null);
  }

  private trouble(what: unknown): void {
    const sentence = what === null ? '' : typeof what === 'string' ? what : what instanceof Error ? what.message : 'Something went wrong on this page.';
    part('problem').hidden = sentence === '';
    say(part('problem'), sentence);
  }
}

const limitLabels: Readonly<Record<PlanLimit, string>> = { testPressure: 'Test pressure', minimumPressure: 'Minimum pressure', ceilingPressure: 'Ceiling pressure' };

const isThreshold = (key: HandleKey): key is ThresholdKey => limitIn(key) === null;

/** A unit of the bench that the page knows how to show. */
export const unitOfBench = (text: string): PressureUnit => {
  const unit = pressureUnitOf(text) ?? 'bar';
  return barPer(unit) > 0 ? unit : 'bar';
};

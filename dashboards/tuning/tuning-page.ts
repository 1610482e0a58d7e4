import type { Thresholds } from '../../src/core/thresholds.js';
import { barPer, pressureUnitOf, type PressureUnit } from '../../src/core/units.js';
import { part, say } from '../shared/page-parts.js';
import { chosenUnit, offerUnits } from '../shared/unit-choice.js';
import { ChangeHistory } from './change-history.js';
import { followFiles } from './file-drop.js';
import { FlipDesk, type FlipView } from './flip-desk.js';
import { HandleDesk, type HandleView } from './handle-desk.js';
import { KeepPanel, type SaveTarget } from './keep-panel.js';
import { LabelPanel } from './label-panel.js';
import { PlanPanel } from './plan-panel.js';
import { planFor } from './plan-values.js';
import { NoisePanel } from './noise-panel.js';
import { OutcomePanel } from './outcome-panel.js';
import { PlotPanel } from './plot-panel.js';
import { ReadingClient, type Port } from './reading-client.js';
import { zeroOf, type ReadTwice, type Tried } from './reading-messages.js';
import { RunDesk } from './run-desk.js';
import { idOf, numberOf } from './run-shelf.js';
import { ThresholdPanel } from './threshold-panel.js';
import { changed } from './threshold-values.js';
import { TradeOffPanel } from './trade-off-panel.js';
import { thresholdsTarget } from './thresholds-target.js';
import { changesOf, countOf, trialOf, type TrialChanges } from './trial-changes.js';
import { textWith, type InForce, type TuningApi } from './tuning-api.js';
import { followUndoKeys } from './undo-keys.js';

/** ms of rest after a change before all ticked runs are read again. */
const rest = 120;

/** The page where an engineer tries thresholds and plans on recorded runs. */
export class TuningPage {
  private readonly history = new ChangeHistory();
  private readonly runs: RunDesk;
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
  private readonly tradeOff: TradeOffPanel;

  constructor(private readonly api: TuningApi, private inForce: InForce, private readonly own: PressureUnit, worker: Port) {
    this.unit = chosenUnit() ?? own;
    this.client = new ReadingClient(worker, {
      read: (result) => {
        this.result = result;
        this.drawReading();
      },
      swept: (id, change, done, of) => this.flips.swept(id, change, done, of),
      failed: (id, sentence) => this.trouble(`${this.runs.titleOf(id)}: ${sentence}`),
    });
    this.runs = new RunDesk(api, this.client, () => this.inForce.thresholds, {
      show: (id) => this.show(id),
      sweep: () => this.flips.sweep(),
      truth: (id, truth) => this.flips.truths.set(id, truth),
      trouble: (what) => this.trouble(what),
    });
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
    this.plot = new PlotPanel(new HandleDesk(this.handleView()), (event) => this.labels.look(event));
    this.keep = new KeepPanel(api);
    this.labels = new LabelPanel(api, () => this.keep.name, (run, { truth }) => {
      this.flips.truths.set(idOf(run), truth);
      this.flips.draw();
    });
    this.tradeOff = new TradeOffPanel(api.base, () => this.candidate, (key, text) => this.change(() => this.history.set(key, text)));
    followUndoKeys({ undo: () => this.change(() => this.history.undo()), redo: () => this.change(() => this.history.redo()) });
    followFiles((files) => this.runs.takeFiles(files));
    this.followSides();
  }

  /** Fills the page. */
  async start(): Promise<void> {
    this.drawAll();
    await this.runs.start();
  }

  private followSides(): void {
    for (const radio of document.querySelectorAll<HTMLInputElement>('input[name="side"]')) {
      radio.addEventListener('change', () => {
        this.side = radio.value === 'plan' ? 'plan' : 'thresholds';
        part('controls').hidden = this.side === 'plan';
        part('plan-side').hidden = this.side === 'thresholds';
        this.keep.clear();
        this.drawSettings();
        if (this.side === 'plan') void this.planPanel.offer(this.runs.shown?.plan?.plan ?? null);
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

  private flipView(): FlipView {
    // Asked for at each use: all of it changes.
    const page = (): TuningPage => this;
    return {
      get unit() { return page().unit; },
      get ids() { return page().runs.loadedPicks; },
      get tried() { return page().tried; },
      get trial() { return page().libraryTrial; },
      titleOf: (id) => this.runs.titleOf(id),
      startOf: (id) => this.runs.startOf(id),
      show: (id) => void this.runs.show(id),
    };
  }

  private handleView(): HandleView {
    const page = (): TuningPage => this;
    return {
      get thresholds() { return page().candidate; },
      get plan() { return page().planPanel.onTrial?.plan ?? null; },
      get unit() { return page().unit; },
      get testPressure() { return page().plot.testPressure; },
      set: (key, text, gesture) => this.change(() => this.history.set(key, text, gesture)),
      setLimit: (limit, bar, gesture) => {
        const plan = this.planPanel.limitAt(limit, bar, this.unit);
        if (plan !== null) this.change(() => this.history.replace(changesOf({ ...this.trial, plan }), gesture));
      },
      endGesture: () => this.history.endGesture(),
    };
  }

  private show(id: string): void {
    this.result = null;
    this.labels.show(numberOf(id));
    this.labels.look(null);
    this.drawAll();
    this.read();
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

  // Reading

  private read(): void {
    const { shown } = this.runs;
    if (shown !== null) this.client.read(shown.id, this.tried);
  }

  // Drawing

  private drawAll(): void {
    offerUnits(this.own, this.unit, (unit) => {
      this.unit = unit;
      this.planPanel.showIn(unit);
      this.drawAll();
    });
    this.runs.draw();
    this.drawSettings();
    this.drawReading();
    this.flips.draw();
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

  private drawPlot(): void {
    const { runs: { shown: run }, result } = this;
    if (run === null) return;
    const { onTrial } = this.planPanel;
    const plan = planFor(run.plan, onTrial);
    this.plot.show({ run, plan, onTrial: onTrial !== null && plan === onTrial.plan, found: result?.id === run.id ? result.after : [], thresholds: this.candidate, unit: this.unit });
  }

  private drawReading(): void {
    const run = this.runs.shown;
    const result = run !== null && this.result?.id === run.id ? this.result : null;
    if (run !== null) {
      say(part('reading-title'), `${this.runs.titleOf(run.id)}, ${run.plan?.plan ?? 'no plan'}`);
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

/** A unit of the bench that the page knows how to show. */
export const unitOfBench = (text: string): PressureUnit => {
  const unit = pressureUnitOf(text) ?? 'bar';
  return barPer(unit) > 0 ? unit : 'bar';
};

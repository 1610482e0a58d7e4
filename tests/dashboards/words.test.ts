import { describe, expect, it } from 'vitest';
import { eventSentence } from '../../dashboards/shared/event-words.js';
import { nextState, type LiveState } from '../../dashboards/live/live-state.js';
import { nextAction } from '../../dashboards/live/next-action.js';
import { bandWords, restOf, widestSigns, withoutProspect } from '../../dashboards/live/now-panel.js';
import { duration } from '../../dashboards/shared/time-words.js';
import { verdictWords } from '../../dashboards/live/verdict-words.js';
import { eventKinds } from '../../src/core/outcome.js';
import { wireRuns, wireSetup, wireView } from '../../src/sinks/live-setup.js';
import { runOf, ScriptedFeed } from '../server/scripted-feed.js';

/** The state of a page that watches this bench. */
function stateOf(feed: ScriptedFeed): LiveState {
  const hello = nextState(null, { kind: 'hello', protocol: 1, session: feed.session, bench: feed.name, unit: 'bar', setup: wireSetup(feed) });
  const state = nextState(hello, {
    kind: 'snapshot', view: wireView(feed), events: feed.found, runs: wireRuns(feed, 20), health: feed.health(), setup: wireSetup(feed), newest: feed.newest(),
  });
  if (state === null) throw new Error('no state after a greeting');
  return state;
}
function bench(change: Partial<ScriptedFeed['now']>, more: (feed: ScriptedFeed) => void = () => {}): LiveState {
  const feed = new ScriptedFeed();
  feed.show(change);
  more(feed);
  return stateOf(feed);
}
const shown = (bar: number) => `${bar} bar`;

describe('the verdict panel', () => {
  const passed = bench({ verdict: 'pass' }, (f) => f.runs.push(runOf({ verdict: 'pass' })));
  it('FC-34: shows no verdict on stale data, least of all a good one', () => {
    for (const verdict of ['pass', 'fail', 'inconclusive', 'pending'] as const) {
      const words = verdictWords(bench({ verdict }, (f) => f.runs.push(runOf({}))), true);
      expect(words).toMatchObject({ tone: 'quiet', title: 'Not known now' });
      expect(words.lines.join(' ')).not.toMatch(/pass|held/i);
    }
    expect(verdictWords(null, false).title).toBe('Not known now');
  });
  it('tells verdicts apart by word and by shape, not by colour alone', () => {
    const all = (['pass', 'fail', 'inconclusive', 'pending'] as const).map((verdict) => verdictWords(bench({ verdict }), false));
    expect(new Set(all.map(({ title }) => title)).size).toBe(4);
    expect(new Set(all.map(({ shape }) => shape)).size).toBe(4);
  });
  it('a pass says that somebody must look, until somebody has', () => {
    expect(verdictWords(passed, false).lines.join(' ')).toContain('look at every assembly');
    const seen = bench({ verdict: 'pass' }, (f) => f.runs.push(runOf({ verdict: 'pass', visual: 'no leakage seen' })));
    expect(verdictWords(seen, false).lines).toEqual(['Seen by the operator: no leakage seen.']);
  });
  it('gives reasons of the run that the verdict belongs to, never those of an earlier one', () => {
    const failed = bench({ verdict: 'fail' }, (f) => f.runs.push(runOf({ verdict: 'fail', reasons: ['leak above limit'] })));
    expect(verdictWords(failed, false).lines).toEqual(['leak above limit']);
    const early = bench({ verdict: 'fail', deciding: ['It failed: burst.'] }, (f) => f.runs.push(runOf({ verdict: 'pass', reasons: ['old'] })));
    expect(verdictWords(early, false).lines).toEqual(['It failed: burst.']);
  });
  it('while pending says what would decide it', () => {
    expect(verdictWords(bench({ verdict: 'pending', deciding: ['It fails above 600 bar.'] }), false)).toMatchObject({ title: 'Pending', lines: ['It fails above 600 bar.'] });
  });
});

describe('a run that is decided while it goes on', () => {
  const ceiling = 'It failed: 635.8 bar is above the ceiling of 600.0 bar.';
  const topUp = 'It cannot pass: pressure was added during the hold.';
  const open = 'It fails if the pressure is lost.';
  /** A page that has seen these views of one run, in this order. */
  const after = (...views: Partial<ScriptedFeed['now']>[]): LiveState => {
    const feed = new ScriptedFeed();
    feed.since = 10;
    let state = stateOf(feed);
    for (const view of views) {
      feed.show({ verdict: 'pending', ...view });
      state = nextState(state, { kind: 'view', view: wireView(feed) }) ?? state;
    }
    return state;
  };
  const held = { phase: 'holding', pressure: 550, holdLeft: 20 } as const;
  it('says so at once, by word, shape and tone, and what would fail it no longer', () => {
    expect(verdictWords(after({ ...held, deciding: [topUp, ceiling, open] }), false)).toEqual({ shape: 'octagon-cross', tone: 'bad', title: 'Failed', lines: [ceiling, topUp] });
    expect(verdictWords(after({ ...held, deciding: [topUp, open] }), false)).toEqual({ shape: 'diamond-question', tone: 'unsure', title: 'Cannot pass', lines: [topUp, open] });
    expect(withoutProspect('holding, 0:42 left if it stays above 530 bar')).toBe('holding, 0:42 left');
  });
  it('stays decided after the hold, in the vent and between cycles, and is forgotten by the next run', () => {
    const lost = 'It failed: 7.0 bar lost, at most 5.0 bar is allowed.';
    const more = 'It failed: 9.0 bar lost, at most 5.0 bar is allowed.';
    const said = (...views: Partial<ScriptedFeed['now']>[]) => verdictWords(after(...views), false).lines;
    expect(said({ ...held, deciding: [lost] }, { ...held, deciding: [more] }, { phase: 'holding', holdLeft: 0 }, { phase: 'venting' }, { phase: 'vented' })).toEqual([more]);
    expect(said({ ...held, cycle: 1, deciding: [lost] }, { ...held, cycle: 2, deciding: [] })).toEqual([lost]);
    // The start of the hold was moved: what counted as lost before does no more.
    expect(said({ ...held, deciding: [lost] }, { ...held, deciding: [open] })).toEqual([open]);
    const next = new ScriptedFeed();
    next.since = 99;
    next.show({ verdict: 'pending', phase: 'rising' });
    expect(nextState(after({ ...held, deciding: [ceiling] }), { kind: 'view', view: wireView(next) })?.decided).toEqual([]);
  });
  it.each([
    [ceiling, 'stop', 'Ceiling passed: stop pumping, vent'],
    ['It failed: the pressure stayed below the minimum.', 'stop', 'Failed: stop pumping, vent'],
    [topUp, 'calm', 'cannot pass: vent the bench'],
  ] as const)('%s: %s, %s', (line, weight, words) => {
    const action = nextAction(after({ ...held, deciding: [line] }), false, shown);
    expect(action.weight).toBe(weight);
    expect(action.text).toContain(words);
    expect(nextAction(after({ ...held, deciding: [line] }, { phase: 'vented', pressure: 0 }), false, shown).text).toContain('leave it vented');
  });
  it('the old verdict and its reasons go with the next rise, before it counts as a run', () => {
    const rise = bench({ verdict: 'fail', phase: 'rising', deciding: ['The hold needs 544.5 bar.'] }, (f) => f.runs.push(runOf({ verdict: 'fail', reasons: ['old'] })));
    expect(verdictWords(rise, false)).toMatchObject({ title: 'Pending', lines: ['The hold needs 544.5 bar.'] });
  });
});

describe('the next action', () => {
  const act = (change: Partial<ScriptedFeed['now']>, more?: (feed: ScriptedFeed) => void, stale = false) => nextAction(bench(change, more), stale, shown);
  it('sends people to the gauge when the data is stale', () => expect(act({ phase: 'vented', pressure: 0 }, undefined, true).text).toContain('gauge at the bench'));
  it.each([
    ['an open lid under pressure', { phase: 'holding', pressure: 550 }, (f: ScriptedFeed) => f.change({ lid: 'open' }), 'Lid open'],
    ['no valid reading', { phase: 'holding', pressure: null }, () => {}, 'No valid reading'],
    ['a burst', { phase: 'venting', pressure: 200 }, (f: ScriptedFeed) => { f.since = 1; f.find({ kind: 'burst', at: 5, pressure: 540 }); }, 'Burst'],
    ['the ceiling passed', { phase: 'rising', pressure: 601 }, () => {}, 'Over the ceiling'],
  ] as const)('stops for %s', (_what, view, more, words) => {
    const action = act(view, more);
    expect(action.weight).toBe('stop');
    expect(action.text).toContain(words);
  });
  it.each([
    [{ phase: 'vented', pressure: 0.2, verdict: null }, 'latch the lid'],
    [{ phase: 'vented', pressure: 0.2, verdict: 'pending', cycle: 1, cycles: 1 }, 'Wait for the verdict'],
    [{ phase: 'vented', pressure: 0.2, verdict: 'pending', cycle: 2, cycles: 3 }, 'between cycles: raise to 550 bar again'],
    [{ phase: 'vented', pressure: 0.2, verdict: 'fail' }, 'retest each one alone'],
    [{ phase: 'vented', pressure: 0.2, verdict: 'pass' }, 'Look at every assembly'],
    [{ phase: 'vented', pressure: 80, verdict: 'pass' }, 'pressure still shows'],
    [{ phase: 'rising', pressure: 300 }, 'Raise to 550 bar'],
    [{ phase: 'rising', pressure: 546 }, 'shut the valve'],
    // The ceiling is 600 bar: 60 bar below it at 24 bar/s leaves 2.5 s, at 15 bar/s more than the 3 s that it takes to stop.
    [{ phase: 'rising', pressure: 540, slope: 24 }, 'Too fast'],
    [{ phase: 'rising', pressure: 540, slope: 15 }, 'Raise to 550 bar'],
    [{ phase: 'rising', pressure: 550, slope: 24 }, 'In the band: stop pumping and shut the valve.'],
    [{ phase: 'rising', pressure: 300, slope: 20 }, 'Raise to 550 bar'],
    [{ phase: 'settling', pressure: 548 }, 'Hands off'],
    [{ phase: 'settling', pressure: 520 }, 'Too low'],
    [{ phase: 'holding', pressure: 545, holdLeft: 12 }, 'Stay clear'],
    [{ phase: 'holding', pressure: 545, holdLeft: 0 }, 'Hold done'],
    [{ phase: 'venting', pressure: 300 }, 'lid latched'],
  ] as const)('%j: %s', (view, words) => {
    const action = act(view);
    expect(action.weight).toBe('calm');
    expect(action.text).toContain(words);
  });
  it('warns of a burst until the next run begins, however quickly it emptied', () => {
    const burst = (f: ScriptedFeed) => {
      f.find({ kind: 'burst', at: 50, pressure: 540 });
      f.runs.push(runOf({ verdict: 'fail', from: 0, to: 60, reasons: ['burst'] }));
    };
    for (const [pressure, words] of [[0.2, 'Take the burst assembly out'], [80, 'keep the lid latched']] as const) {
      const action = act({ phase: 'vented', pressure, verdict: 'fail' }, burst);
      expect(action.weight).toBe('stop');
      expect(action.text).toContain(words);
    }
    expect(act({ phase: 'rising', pressure: 5, verdict: 'fail' }, burst).text).toContain('Raise to');
    const later = (f: ScriptedFeed) => {
      burst(f);
      f.runs.unshift(runOf({ id: '18', verdict: 'pass', from: 70, to: 160 }));
    };
    expect(act({ phase: 'vented', pressure: 0.2, verdict: 'pass' }, later).text).toContain('Look at every');
  });
  it('after the ceiling was passed nothing is used before somebody competent has looked', () => {
    const over = (f: ScriptedFeed) => f.runs.push(runOf({ verdict: 'fail', reasons: ['The pressure rose to 636 bar, above the ceiling of 600 bar: the assembly was overloaded.'] }));
    expect(act({ phase: 'vented', pressure: 0.2, verdict: 'fail' }, over)).toMatchObject({ weight: 'stop', text: expect.stringContaining('Overloaded: set all assemblies aside') });
  });
  it('never tells anybody to go near, tighten or open something that is under pressure', () => {
    for (const phase of ['rising', 'settling', 'holding', 'venting', 'vented'] as const) {
      for (const pressure of [null, 40, 300, 550, 700]) {
        for (const verdict of ['pending', 'pass', 'fail', 'inconclusive', null] as const) {
          expect(act({ phase, pressure, verdict }).text).not.toMatch(/tighten|open the|look at every|find which|lay the mat/i);
        }
      }
    }
  });
});

describe('state out of messages', () => {
  it('of another session starts empty; of the same one goes on', () => {
    const state = bench({ verdict: 'pass' }, (f) => f.find({ kind: 'spike', at: 3 }));
    const greet = (session: string) => nextState(state, { kind: 'hello', protocol: 1, session, bench: state.bench, unit: 'bar', setup: state.setup });
    expect(greet('first')?.events).toHaveLength(1);
    expect(greet('second')).toMatchObject({ events: [], runs: [], view: null });
  });
  it('tells an event that comes twice once, in order of time', () => {
    let state: LiveState | null = bench({});
    for (const at of [5, 3, 5, 4]) state = nextState(state, { kind: 'event', event: { kind: 'spike', at } });
    expect(state?.events.map(({ at }) => at)).toEqual([3, 4, 5]);
  });
});

describe('small words', () => {
  it('every event has a sentence', () => {
    for (const kind of eventKinds) expect(eventSentence({ kind, at: 0 }, shown, duration)).toMatch(/^[a-z]/);
    expect(eventSentence({ kind: 'spike', at: 1, height: 7.1, width: 0.04 }, shown, duration)).toBe('spike: height 7.1 bar, 0.04 s');
    expect(eventSentence({ kind: 'burst', at: 1, pressure: 612 }, shown, duration)).toBe('burst: from 612 bar');
  });
  it.each([
    ['holding, 0:42 left if it stays above 530 bar', 'holding', true, 'left if it stays above 530 bar'],
    ['holding, 0:42 left', 'holding', false, '0:42 left'],
    ['rising, 38 bar below the band', 'rising', false, '38 bar below the band'],
    ['settling: waiting for rest', 'settling', false, 'waiting for rest'],
    ['settled too low', 'settling', false, 'settled too low'],
    ['vented', 'vented', false, ''],
    ['hold complete, vent when ready', 'holding', true, 'hold complete, vent when ready'],
  ] as const)('%s (%s) leaves: %s', (sentence, phase, counted, rest) => expect(restOf(sentence, phase, counted)).toBe(rest));
  it('the figure keeps its size from nothing to the ceiling, in each unit', () => {
    const { plan } = wireSetup(new ScriptedFeed());
    expect([widestSigns(plan, 'bar', 0.1), widestSigns(plan, 'psi', 0.1), widestSigns(plan, 'MPa', 0.1), widestSigns(null, 'bar', 1)]).toEqual([4.5, 4, 4.5, 3.5]);
  });
  it('the band is that of the phase', () => {
    const { plan } = wireSetup(new ScriptedFeed());
    expect(bandWords(plan, 'rising', 'bar', 0.1)).toBe('band: 544.5 to 600.0 bar');
    expect(bandWords(plan, 'holding', 'MPa', 0.1)).toBe('band: 53.00 to 60.00 MPa');
    expect(bandWords(plan && { ...plan, ceiling: null }, 'holding', 'bar', 0.1)).toBe('band: 530.0 bar and above');
    expect(bandWords(null, 'holding', 'bar', 0.1)).toBe('');
  });
});

import type { FoundEvent } from '../../src/core/outcome.js';
import type { PressureUnit } from '../../src/core/units.js';
import type { BenchHealth } from '../../src/server/bench-feed.js';
import type { ServerMessage, WireRun, WireSetup, WireView } from '../../src/sinks/live-protocol.js';
import { decidedAfter, type DecidedLine } from './decided.js';

/** What the page knows apart from the samples. */
export interface LiveState {
  readonly bench: string;
  readonly unit: PressureUnit;
  readonly session: string;
  readonly setup: WireSetup;
  readonly view: WireView | null;
  readonly health: BenchHealth | null;
  readonly runs: readonly WireRun[];
  /** Sorted by time, without doubles, bounded. */
  readonly events: readonly FoundEvent[];
  /** What is certain of the run that is going on. */
  readonly decided: readonly DecidedLine[];
}

const mostEvents = 4000;

/** The state after a message; `null` before the first greeting. Another session starts with nothing. */
export function nextState(state: LiveState | null, message: ServerMessage): LiveState | null {
  if (message.kind === 'hello') {
    const { bench, unit, session, setup } = message;
    const known = state?.session === session && state.bench === bench ? state : { view: null, health: null, runs: [], events: [], decided: [] };
    return { ...known, bench, unit, session, setup };
  }
  if (state === null) return null;
  switch (message.kind) {
    case 'snapshot': {
      const { view, health, runs, setup } = message;
      return { ...state, view, health, runs, setup, events: merged(state.events, message.events), decided: decidedAfter(state.decided, state.view, view) };
    }
    case 'view':
      return { ...state, view: message.view, decided: decidedAfter(state.decided, state.view, message.view) };
    case 'event':
      return { ...state, events: merged(state.events, [message.event]) };
    case 'runs':
      return { ...state, runs: message.runs };
    case 'setup':
      return { ...state, setup: message.setup, health: message.health };
    case 'heartbeat':
      return { ...state, health: message.health };
  }
}

const keyOf = (event: FoundEvent): string => `${event.kind} ${event.at}`;

function merged(known: readonly FoundEvent[], more: readonly FoundEvent[]): readonly FoundEvent[] {
  if (more.length === 0) return known;
  const all = new Map([...known, ...more].map((event) => [keyOf(event), event]));
  return [...all.values()].sort((a, b) => a.at - b.at).slice(-mostEvents);
}

/** The finished run that the verdict on the page belongs to; `null` while a run is going on or before the first. */
export const lastRun = (state: LiveState): WireRun | null =>
  state.view?.verdict === 'pending' ? null : (state.runs.find(({ session }) => session === state.session) ?? null);

/** True from the first rise on, also in the moment before it counts as a run: what the last one came to is past then. */
export const underWay = ({ view }: LiveState): boolean => view !== null && (view.verdict === 'pending' || view.phase === 'rising' || view.phase === 'settling' || view.phase === 'holding');

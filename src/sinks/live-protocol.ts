import type { LiveView } from '../core/live.js';
import type { FoundEvent } from '../core/outcome.js';
import type { PressureUnit } from '../core/units.js';
import type { BenchHealth, RunSummary, WallAnchor } from '../server/bench-feed.js';

/**
 * What server and page say to each other. Text messages are JSON and tell states, so that one that was dropped is made
 * good by the next; samples travel as binary frames (`live-frame.ts`) and are asked for by number.
 *
 * 1. The server greets with `hello`.
 * 2. The page answers `follow` with the last sequence number it has of that session, or `null`.
 * 3. The server sends `snapshot`, then all missing samples that it still has, then goes live.
 * 4. Each side sends a `heartbeat` every second; the server's returns the page's own clock, so that the page knows how
 *    long messages take and never takes a late one for a fresh one.
 */
export const protocolVersion = 1;

/** s of silence after which the page says 'no live data', and after which it connects anew. */
export const staleAfter = 3;
export const reconnectAfter = 10;

/** The plan as the page draws and says it; pressures in bar, times in s. */
export interface PlanLines {
  readonly name: string;
  readonly testPressure: number;
  /** The band that the pressure must be in: from here (`reachLevel` while rising) ... */
  readonly reach: number;
  /** ... or from here during the hold ... */
  readonly holdFloor: number;
  /** ... up to the ceiling; `null` when the plan names none. */
  readonly ceiling: number | null;
  /** The lower limit during the hold; `null` when drop or leak stand for it. */
  readonly minimum: number | null;
  readonly holdTime: number;
  readonly cycles: number;
}

export interface WireSetup {
  readonly plan: PlanLines | null;
  readonly thresholds: string;
  /** s */ readonly gap: number;
  /** bar */ readonly resolution: number | null;
  readonly anchor: WallAnchor;
}

/** The view without its list of events, which travel apart, and with the start of the run. */
export type WireView = Omit<LiveView, 'events'> & { readonly runSince: number | null };

/** A finished run as lists show it; its events are on the trace, or fetched with the run. */
export type WireRun = Omit<RunSummary, 'events'>;

export type ServerMessage =
  | { readonly kind: 'hello'; readonly protocol: number; readonly session: string; readonly bench: string; readonly unit: PressureUnit; readonly setup: WireSetup }
  | {
      readonly kind: 'snapshot';
      readonly view: WireView;
      readonly events: readonly FoundEvent[];
      readonly runs: readonly WireRun[];
      readonly health: BenchHealth;
      readonly setup: WireSetup;
      readonly newest: number;
    }
  | { readonly kind: 'view'; readonly view: WireView }
  | { readonly kind: 'event'; readonly event: FoundEvent }
  | { readonly kind: 'runs'; readonly runs: readonly WireRun[] }
  | { readonly kind: 'setup'; readonly setup: WireSetup; readonly health: BenchHealth }
  | {
      readonly kind: 'heartbeat';
      readonly newest: number;
      readonly health: BenchHealth;
      /** The page's clock in its last heartbeat, ms, and how long ago that came in, ms; `null` before the first. */
      readonly echo: { readonly at: number; readonly held: number } | null;
    };

export type PageMessage =
  | { readonly kind: 'follow'; readonly session: string; readonly after: number | null }
  | { readonly kind: 'heartbeat'; readonly at: number };

/** Close codes of our own and what they mean to the page. */
export const closeCode = { signedOut: 4001, tooSlow: 4008, badMessage: 4000, stopping: 1001, full: 4029 } as const;

const needs: Readonly<Record<ServerMessage['kind'], readonly string[]>> = {
  hello: ['session', 'bench', 'unit', 'setup', 'protocol'],
  snapshot: ['view', 'events', 'runs', 'health', 'setup', 'newest'],
  view: ['view'],
  event: ['event'],
  runs: ['runs'],
  setup: ['setup', 'health'],
  heartbeat: ['newest', 'health', 'echo'],
};

const isKind = (kind: unknown): kind is ServerMessage['kind'] => typeof kind === 'string' && Object.hasOwn(needs, kind);

/** A server message out of its text; `null` for anything else. Checks shape only: the server is of the same house. */
export function readServerMessage(text: string): ServerMessage | null {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    return null;
  }
  if (typeof value !== 'object' || value === null || !('kind' in value) || !isKind(value.kind)) return null;
  return needs[value.kind].every((key) => key in value) ? (value as ServerMessage) : null;
}

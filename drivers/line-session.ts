import type { Dropped, Fault, Notice } from './driver.js';
import { LineFramer, type FramerSink } from './line-framer.js';
import { lineLayout, shownBytes } from './line-layout.js';
import { wholePattern, type LineOptions } from './line-options.js';
import { PollGrid, type PollSink } from './poll-grid.js';
import { pollSkipped } from './poll-skipped.js';
import type { LinkSession, SessionSink } from './run-session.js';

/** s without a line end before it is told. */
const lineEndWait = 3;
const damagedInARow = 10;
const channel = 'pressure';

/** One opening of a line-oriented instrument, from bytes to what they say. Knows no port and no clock. */
export class LineSession implements LinkSession, FramerSink, PollSink {
  readonly #framer: LineFramer;
  readonly #decode: ReturnType<typeof lineLayout>;
  readonly #ignore: RegExp | undefined;
  readonly #restart: RegExp | undefined;
  readonly #grid: PollGrid | undefined;
  #time: number;
  #settledAt: number;
  #damaged = 0;
  #restartTold = false;
  /** s, first byte since the last line end. */
  #unendedSince: number | null = null;
  readonly #controls = new Map<number, number>();
  #lineEndTold = false;

  constructor(
    private readonly options: LineOptions,
    /** s, when the link was opened. */
    openedAt: number,
    private readonly sink: SessionSink,
  ) {
    const delimiter = options.delimiter === undefined ? null : Buffer.from(options.delimiter, 'latin1');
    // What an asked instrument sends begins with its answer.
    const whole = options.firstLine === 'keep' || options.poll !== undefined;
    this.#framer = new LineFramer(delimiter, options.maximumLineLength, whole);
    this.#decode = lineLayout(options);
    this.#ignore = options.ignoreLines === undefined ? undefined : wholePattern(options.ignoreLines);
    this.#restart = options.restartLines === undefined ? undefined : wholePattern(options.restartLines);
    this.#time = openedAt;
    this.#settledAt = openedAt + options.settleAfterOpen;
    this.#grid = options.poll && new PollGrid(options.poll, this.#settledAt);
  }

  bytes(time: number, chunk: Uint8Array): void {
    this.#time = time;
    this.#grid?.bytes(time);
    if (!this.#lineEndTold) for (const byte of chunk) if (byte < 32) this.#controls.set(byte, (this.#controls.get(byte) ?? 0) + 1);
    this.#framer.push(chunk, this);
    this.#unendedSince = this.#framer.pending ? (this.#unendedSince ?? time) : null;
  }

  due(): number {
    const lineEnd = this.#unendedSince === null || this.#lineEndTold ? Infinity : this.#unendedSince + lineEndWait;
    return Math.min(lineEnd, this.#grid?.due() ?? Infinity);
  }

  at(time: number): void {
    this.#time = time;
    this.#grid?.at(time, this);
    if (this.#unendedSince === null || this.#lineEndTold || time < this.#unendedSince + lineEndWait) return;
    this.#lineEndTold = true;
    this.#notice('no-line-end', this.#lineEndText());
  }

  /** The link is gone: what has no line end is told and dropped. */
  end(): void {
    const rest = this.#framer.rest;
    if (rest !== '') this.#drop('cut-off', rest);
  }

  line(text: string, whole: boolean): void {
    this.#unendedSince = null;
    this.#controls.clear();
    // A delimiter of one's own leaves the usual ones on the line.
    const line = this.options.delimiter === undefined ? text : text.replace(/^[\r\n]+|[\r\n]+$/g, '');
    if (this.#time < this.#settledAt) return this.#settling(line);
    if (line.replaceAll('\0', '').trim() === '') return;
    if (this.#restart?.test(line)) return this.#restarted(line);
    if (this.#ignore?.test(line)) return this.#drop('ignored', line);
    if (this.#grid?.answered() === false) return this.#drop('unasked', line);
    const said = this.#decode(line);
    if (!whole && !('fault' in said && said.fault === 'damaged')) return this.#drop('first-line', line);
    if ('fault' in said) return this.#fault(said.fault, line);
    this.#damaged = 0;
    const time = this.#time;
    said.contacts?.forEach((contact) => this.sink.receive({ kind: 'contact', time, ...contact }));
    this.sink.receive({ kind: 'reading', time, channel, raw: shownBytes(line), value: said.value, unit: said.unit });
  }

  oversize(head: string): void {
    this.#fault('oversize', head);
  }

  ask(): void {
    this.#framer.restart();
    this.sink.send(Buffer.from(this.options.poll?.query ?? '', 'latin1'));
  }

  unanswered(): void {
    this.#fault('no-answer', this.#framer.rest);
  }

  skipped(time: number, ticks: number): void {
    this.sink.receive(pollSkipped(time, ticks));
  }

  #settling(line: string): void {
    // NUL bytes and banners are what a board sends when opening the port has reset it.
    if (!this.#restartTold && (line.includes('\0') || /[A-Za-z]{3}/.test(line)) && !('value' in this.#decode(line))) this.#tellRestart(line);
    if (line !== '') this.#drop('settling', line);
  }

  #restarted(line: string): void {
    this.#tellRestart(line);
    this.#settledAt = this.#time + this.options.settleAfterOpen;
    this.#drop('ignored', line);
  }

  #tellRestart(line: string): void {
    this.#restartTold = this.#time < this.#settledAt;
    this.#notice('device-restart', `the instrument restarted: it sent '${shownBytes(line).slice(0, 40)}'`);
  }

  #fault(fault: Fault, line: string): void {
    this.sink.receive({ kind: 'fault', time: this.#time, channel, raw: shownBytes(line), fault });
    this.#damaged = fault === 'damaged' ? this.#damaged + 1 : 0;
    if (this.#damaged === damagedInARow) {
      this.#notice('check-parity', `${damagedInARow} damaged lines in a row: check parity, data bits and baud rate`);
    }
  }

  #drop(why: Dropped['why'], line: string): void {
    this.sink.receive({ kind: 'dropped', time: this.#time, raw: shownBytes(line), why });
  }

  #notice(code: Notice['code'], text: string): void {
    this.sink.receive({ kind: 'notice', time: this.#time, code, text });
  }

  #lineEndText(): string {
    const names: Readonly<Record<number, string>> = { 0: 'NUL', 2: 'STX', 3: 'ETX', 9: 'TAB', 10: 'LF', 13: 'CR' };
    const name = (byte: number) => names[byte] ?? `0x${byte.toString(16).padStart(2, '0').toUpperCase()}`;
    const wanted = this.options.delimiter === undefined ? 'CR or LF' : [...this.options.delimiter].map((c) => (c < ' ' ? name(c.charCodeAt(0)) : `'${c}'`)).join(' ');
    const seen = [...this.#controls].map(([byte, times]) => `${name(byte)} ${times} times`).join(', ') || 'none';
    return `bytes arrive but no line end (${wanted}) came for ${lineEndWait} s; control bytes seen: ${seen}; check delimiter and baud rate`;
  }
}

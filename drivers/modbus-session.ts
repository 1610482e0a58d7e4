import type { Fault, Notice } from './driver.js';
import type { Block } from './modbus-blocks.js';
import type { FramingSink, ModbusFraming } from './modbus-framing.js';
import { byteCountOf, bytesOf, type Answer, type Refusal } from './modbus-pdu.js';
import { decodeValue, isBitTable } from './modbus-values.js';
import { pollSkipped } from './poll-skipped.js';
import type { LinkSession, SessionSink } from './run-session.js';
import { SlaveRest } from './slave-rest.js';
import { TickGrid } from './tick-grid.js';

export interface ModbusTiming {
  /** s, the grid on which all blocks are read. */
  readonly every: number;
  /** s, no answer by then is a missing reading. */
  readonly answerWithin: number;
  /** s after opening before the first question. */
  readonly settleAfterOpen: number;
}

/** s of silence before a question whose answer would look like the one before it: that one may come a second time. */
const twinSilence = 0.02;
/** s without a byte after which a spoilt answer is over. */
const spoiltWait = 0.05;

/**
 * One opening of a Modbus link: all blocks in turn at each tick of the grid, one question at a time.
 *
 * On a line whose answers carry no number a late one must not be taken for the next. After a time-out nothing is asked
 * until the line has been quiet for the answer time; what came is thrown away and counted. Where the late answer was
 * not among it, it may still come: then the slave is asked for something else first, whose answer has another length.
 * A slave answers in order, so once that is there nothing older can follow, and the question itself is asked again.
 */
export class ModbusSession implements LinkSession, FramingSink {
  readonly #grid: TickGrid;
  readonly #rest: SlaveRest;
  #time: number;
  /** Place of the next block of the round; beyond the last when the round is over. */
  #next: number;
  #open: { readonly block: Block; readonly askedAt: number; readonly probeFor?: Block } | null = null;
  /** Slaves that were silent in this round. */
  readonly #failed = new Set<number>();
  /** The last question. */
  #last: Block | null = null;
  /** Slaves that owe an answer, with the question. */
  readonly #owed = new Map<number, Block>();
  /** s, no question before. */
  #quietUntil = -Infinity;
  #emptying = false;
  #lastByte = -Infinity;
  #unused: Uint8Array[] = [];
  readonly #refused = new Map<Block, string>();

  constructor(
    private readonly blocks: readonly Block[],
    private readonly timing: ModbusTiming,
    private readonly framing: ModbusFraming,
    openedAt: number,
    private readonly sink: SessionSink,
    private readonly lost: (sentence: string) => void,
  ) {
    this.#time = openedAt;
    this.#next = blocks.length;
    this.#grid = new TickGrid(openedAt + timing.settleAfterOpen, timing.every);
    this.#rest = new SlaveRest(new Set(blocks.map(({ unitId }) => unitId)).size);
  }

  bytes(time: number, chunk: Uint8Array): void {
    this.#time = time;
    this.#lastByte = time;
    if (this.#emptying) this.#quietUntil = time + this.timing.answerWithin;
    this.framing.push(chunk, this);
    this.#ask();
  }

  due(): number {
    if (this.#open !== null) return Math.min(this.#grid.due, this.#deadline(this.#open.askedAt));
    return this.#next < this.blocks.length ? Math.min(this.#grid.due, this.#clearAt) : this.#grid.due;
  }

  at(time: number): void {
    this.#time = time;
    if (this.#open !== null && time >= this.#deadline(this.#open.askedAt)) this.#unanswered(this.#open.block);
    const ticks = this.#grid.take(time);
    if (ticks > 0) {
      const begins = this.#open === null && this.#next >= this.blocks.length && time >= this.#quietUntil;
      const left = begins ? ticks - 1 : ticks;
      if (left > 0) this.sink.receive(pollSkipped(time, left));
      if (begins) {
        this.#next = 0;
        this.#failed.clear();
      }
    }
    this.#ask();
  }

  end(): void {
    const rest = this.framing.close();
    if (rest.length > 0) this.#drop('cut-off', rest);
    this.#tellUnused();
  }

  answer(answer: Answer): void {
    const probe = this.#open?.probeFor;
    const block = this.#answered();
    if (block === null) return;
    if (probe !== undefined) {
      this.#owed.delete(block.unitId);
      this.#next--;
      return;
    }
    if (answer.kind === 'refusal') return this.#refusal(block, answer.refusal);
    this.#refused.delete(block);
    const time = this.#time;
    for (const placed of block.values) {
      const channel = placed.value.value;
      const said = decodeValue(placed.value, bytesOf(block, placed, answer.bytes));
      if ('value' in said) this.sink.receive({ kind: 'reading', time, channel, unit: null, ...said });
      else this.sink.receive({ kind: 'fault', time, channel, ...said });
    }
  }

  wrong(bytes: Uint8Array): void {
    const block = this.#answered();
    if (block !== null) this.#fault(block, 'malformed', hex(bytes));
  }

  unasked(bytes: Uint8Array): void {
    // Between questions bytes are gathered, so that one late answer counts once however it was cut.
    if (this.framing.numbered) this.#drop('unasked', bytes);
    else if (this.#unused.length < 64) this.#unused.push(Uint8Array.from(bytes));
  }

  broken(sentence: string): void {
    this.lost(sentence);
  }

  get #clearAt(): number {
    const next = this.blocks[this.#next];
    const twins = !this.framing.numbered && this.#last !== null && next !== undefined && next !== this.#last && looksAlike(this.#last, next);
    return Math.max(this.#quietUntil, this.#lastByte + (twins ? Math.max(twinSilence, this.framing.silence) : this.framing.silence));
  }

  #deadline(askedAt: number): number {
    const last = askedAt + this.timing.answerWithin;
    return this.framing.spoilt ? Math.min(last, this.#lastByte + spoiltWait) : last;
  }

  #ask(): void {
    while (this.#open === null && this.#next < this.blocks.length && this.#time >= this.#clearAt) {
      const block = this.blocks[this.#next++];
      if (block === undefined || this.#rest.rests(block.unitId, this.#time)) continue;
      this.#emptying = false;
      this.#settle();
      this.#tellUnused();
      const owed = this.#owed.get(block.unitId);
      if (owed !== undefined && this.#failed.has(block.unitId)) {
        // It was silent a moment ago: the other slaves shall not wait for it a second time.
        this.#fault(block, 'no-answer', '');
        continue;
      }
      const question = owed === undefined ? block : otherLength(owed);
      this.#open = { block: question, askedAt: this.#time, ...(owed !== undefined && { probeFor: block }) };
      this.#last = question;
      this.sink.send(this.framing.ask(question));
    }
  }

  #answered(): Block | null {
    const block = this.#open?.block ?? null;
    this.#open = null;
    if (block !== null) this.#rest.answered(block.unitId);
    return block;
  }

  /** Whether a late answer was among what came meanwhile. */
  #settle(): void {
    if (this.#owed.size === 0 || this.#unused.length === 0) return;
    const came = Buffer.concat(this.#unused);
    for (const [unitId, block] of this.#owed) if (this.framing.holdsAnswer(block, came)) this.#owed.delete(unitId);
  }

  #unanswered(asked: Block): void {
    const probe = this.#open?.probeFor;
    const block = probe ?? asked;
    const spoilt = this.framing.spoilt;
    const came = this.framing.close();
    this.#open = null;
    if (came.length === 0) this.#rest.silent(block.unitId, this.#time);
    if (!this.framing.numbered && !spoilt) {
      this.#emptying = true;
      this.#failed.add(block.unitId);
      if (probe === undefined) this.#owed.set(block.unitId, block);
      this.#quietUntil = (came.length > 0 ? this.#lastByte : this.#time) + this.timing.answerWithin;
    }
    this.#fault(block, spoilt ? 'checksum' : came.length > 0 ? 'malformed' : 'no-answer', hex(came));
    if (this.framing.stopped) this.lost('stopped in the middle of an answer');
  }

  #refusal(block: Block, { code, words, fault }: Refusal): void {
    this.#fault(block, fault, `exception ${code}: ${words}`);
    if (fault !== 'refused' || this.#refused.get(block) === words) return;
    this.#refused.set(block, words);
    const what = block.count === 1 ? `address ${block.start}` : `addresses ${block.start} to ${block.start + block.count - 1}`;
    this.#notice('check-setup', `slave ${block.unitId} refuses to give ${what} (counted from 0) of its ${block.table} table: ${words}; check table, address and addressBase`);
  }

  #fault(block: Block, fault: Fault, raw: string): void {
    for (const { value } of block.values) this.sink.receive({ kind: 'fault', time: this.#time, channel: value.value, raw, fault });
  }

  #notice(code: Notice['code'], text: string): void {
    this.sink.receive({ kind: 'notice', time: this.#time, code, text });
  }

  #tellUnused(): void {
    if (this.#unused.length === 0) return;
    const all = Buffer.concat(this.#unused);
    this.#unused = [];
    this.#drop('unasked', all);
  }

  #drop(why: 'unasked' | 'cut-off', bytes: Uint8Array): void {
    this.sink.receive({ kind: 'dropped', time: this.#time, raw: hex(bytes), why });
  }
}

/** An answer to one could be taken for an answer to the other. */
const looksAlike = (a: Block, b: Block): boolean => a.unitId === b.unitId && a.functionCode === b.functionCode && byteCountOf(a) === byteCountOf(b);

/** A question to the same place whose answer has another length. It may be refused: that is an answer, too. */
function otherLength(block: Block): Block {
  const count = isBitTable(block.table) ? block.count + 8 : block.count > 1 ? block.count - 1 : 2;
  return { ...block, count, values: [] };
}

const hex = (bytes: Uint8Array): string => Buffer.from(bytes).toString('hex').toUpperCase();

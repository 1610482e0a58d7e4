import type { Subscription } from 'rxjs';
import type { Clock } from '../../drivers/clock.js';
import type { Block } from '../../drivers/modbus-blocks.js';
import type { FramingSink, ModbusFraming } from '../../drivers/modbus-framing.js';
import type { Answer, Refusal } from '../../drivers/modbus-pdu.js';
import { tables, type ModbusTable } from '../../drivers/modbus-values.js';
import type { Connection } from '../../drivers/wiring.js';

/** A stretch of one table of one slave. */
export interface Question {
  readonly unitId: number;
  readonly table: ModbusTable;
  readonly start: number;
  readonly count: number;
}

/** What came of a question; `took` is s. */
export type Reply =
  | { readonly kind: 'content'; readonly bytes: Uint8Array; readonly took: number }
  | { readonly kind: 'refusal'; readonly refusal: Refusal; readonly took: number }
  /** `stray` bytes came and were no answer. */
  | { readonly kind: 'silence'; readonly stray: number };

/**
 * Asks one question at a time over an open connection. It can only read: the function code of a question is that of its
 * table, 1 to 4, and there is no other way to send.
 */
export class ModbusAsker implements FramingSink {
  readonly #listening: Subscription;
  #done: ((reply: Reply) => void) | null = null;
  #askedAt = 0;
  #lastByte = -Infinity;
  #stray = 0;
  #silentUnit: number | null = null;
  #broken: string | null = null;

  constructor(
    private readonly connection: Connection,
    private readonly framing: ModbusFraming,
    private readonly clock: Clock,
    /** s */
    private readonly answerWithin: number,
  ) {
    this.#listening = connection.received.subscribe({
      next: (chunk) => {
        this.#lastByte = clock.now();
        framing.push(chunk, this);
      },
      complete: () => {
        this.#broken ??= 'closed the connection';
        this.#finish({ kind: 'silence', stray: this.#stray });
      },
    });
  }

  /** Why nothing more can be asked; `null` while all is well. */
  get ended(): string | null {
    return this.#broken;
  }

  async ask({ unitId, table, start, count }: Question): Promise<Reply> {
    if (this.#broken !== null) return { kind: 'silence', stray: 0 };
    await this.#quiet(unitId);
    const block: Block = { unitId, table, functionCode: tables[table], start, count, values: [] };
    this.#stray = 0;
    return new Promise((resolve) => {
      const cancel = this.clock.after(this.answerWithin, () => {
        const rest = this.framing.close();
        this.#silentUnit = unitId;
        this.#finish({ kind: 'silence', stray: this.#stray + rest.length });
      });
      this.#done = (reply) => {
        cancel();
        resolve(reply);
      };
      this.#askedAt = this.clock.now();
      this.connection.send(this.framing.ask(block));
    });
  }

  close(): void {
    this.#listening.unsubscribe();
  }

  answer(answer: Answer): void {
    this.#silentUnit = null;
    this.#finish({ ...answer, took: this.clock.now() - this.#askedAt });
  }

  wrong(bytes: Uint8Array): void {
    this.#stray += bytes.length;
  }

  unasked(bytes: Uint8Array): void {
    this.#stray += bytes.length;
  }

  broken(sentence: string): void {
    this.#broken = sentence;
    this.#finish({ kind: 'silence', stray: this.#stray });
  }

  #finish(reply: Reply): void {
    const done = this.#done;
    this.#done = null;
    done?.(reply);
  }

  /** An answer without a number that comes late must not be taken for the next one of the same slave. */
  async #quiet(unitId: number): Promise<void> {
    const wait = this.framing.numbered ? 0 : this.#silentUnit === unitId ? this.answerWithin : Math.max(this.framing.silence, 0.005);
    const since = Math.max(this.#lastByte, this.#silentUnit === unitId ? this.clock.now() : -Infinity);
    const left = since + wait - this.clock.now();
    if (left > 0) await new Promise<void>((resolve) => void this.clock.after(left, resolve));
  }
}

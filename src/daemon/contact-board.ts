import type { ContactLost } from '../acquisition/acquire.js';
import type { Bench } from '../acquisition/bench-file.js';
import type { FoundEvent } from '../core/outcome.js';
import type { Mark } from '../core/trace.js';
import type { NoticeBoard } from './notice-board.js';

/** What the board and the doubts are told of the switches. */
export interface ContactSink {
  readonly board: NoticeBoard;
  /** Something keeps runs from being decided; `null` when it is over. */
  doubt(subject: string, text: string | null): void;
  /** The lid as it is known now. */
  lid(state: 'open' | 'closed' | null): void;
}

/** The switches of a bench: the lid as pages show it, the alarm for an open one, the doubt about one that cannot be read. */
export class ContactBoard {
  constructor(
    private readonly sink: ContactSink,
    bench: Bench,
  ) {
    const watched = bench.links.some(({ contacts }) => contacts.some(({ contact }) => contact === 'lid'));
    if (watched) sink.doubt('lid', 'whether the lid is shut is not known: its contact has not been read yet');
  }

  /** A switch moved. @param pressurised whether the bench is under pressure */
  marked({ kind }: Mark, pressurised: boolean): void {
    if (kind !== 'lid-open' && kind !== 'lid-closed') return;
    this.sink.doubt('lid', null);
    this.sink.lid(kind === 'lid-open' ? 'open' : 'closed');
    if (kind === 'lid-closed') this.sink.board.clear('lid');
    else if (pressurised) this.alarm();
  }

  /** The reader found the lid open under pressure. */
  found({ kind }: FoundEvent): void {
    if (kind === 'lid-open') this.alarm();
  }

  /** The bench is vented: an open lid is no danger any more. */
  vented(): void {
    this.sink.board.clear('lid');
  }

  /** Pump and vent contacts only sharpen what the signal tells; the lid contact stands for safety. */
  lost({ contact, text }: ContactLost): void {
    if (contact !== 'lid') return;
    this.sink.lid(null);
    this.sink.doubt('lid', `whether the lid stayed shut is not known: ${text}`);
  }

  private alarm(): void {
    this.sink.board.put('lid', 'alarm', 'the lid is open under pressure: stay clear of it and vent the bench');
  }
}

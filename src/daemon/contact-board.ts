import type { ContactLost } from '../acquisition/acquire.js';
import type { Bench } from '../acquisition/bench-file.js';
import type { FoundEvent } from '../core/outcome.js';
import type { Mark } from '../core/trace.js';
import type { ContactState } from '../server/bench-feed.js';
import type { NoticeBoard } from './notice-board.js';

/** What the board and the doubts are told of the switches. */
export interface ContactSink {
  readonly board: NoticeBoard;
  /** Something keeps runs from being decided; `null` when it is over. */
  doubt(subject: string, text: string | null): void;
  /** The lid as it is known now. */
  lid(state: 'open' | 'closed' | null): void;
  /** Every switch as it is known now. */
  contacts(states: readonly ContactState[]): void;
}

/** The switches of a bench: the lid as pages show it, the alarm for an open one, the doubt about one that cannot be read. */
export class ContactBoard {
  private readonly states = new Map<ContactState['contact'], ContactState['state']>();

  constructor(
    private readonly sink: ContactSink,
    bench: Bench,
  ) {
    for (const { contacts } of bench.links) for (const { contact } of contacts) this.states.set(contact, null);
    this.tell();
    if (this.states.has('lid')) sink.doubt('lid', 'whether the lid is shut is not known: its contact has not been read yet');
  }

  /** A switch moved. @param pressurised whether the bench is under pressure */
  marked({ kind }: Mark, pressurised: boolean): void {
    const moved = switchIn(kind);
    if (moved !== null) {
      this.states.set(moved.contact, moved.state);
      this.tell();
    }
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
    this.states.set(contact, null);
    this.tell();
    if (contact !== 'lid') return;
    this.sink.lid(null);
    this.sink.doubt('lid', `whether the lid stayed shut is not known: ${text}`);
  }

  private tell(): void {
    this.sink.contacts([...this.states].map(([contact, state]) => ({ contact, state })));
  }

  private alarm(): void {
    this.sink.board.put('lid', 'alarm', 'the lid is open under pressure: stay clear of it and vent the bench');
  }
}

/** Which switch a mark tells of. */
function switchIn(kind: Mark['kind']): ContactState | null {
  switch (kind) {
    case 'lid-open':
    case 'lid-closed':
      return { contact: 'lid', state: kind === 'lid-open' ? 'open' : 'closed' };
    case 'pump-on':
    case 'pump-off':
      return { contact: 'pump', state: kind === 'pump-on' ? 'on' : 'off' };
    case 'vent-open':
    case 'vent-closed':
      return { contact: 'vent', state: kind === 'vent-open' ? 'open' : 'closed' };
    default:
      return null;
  }
}

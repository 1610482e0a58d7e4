import type { Observable } from 'rxjs';
import type { z } from 'zod';
import type { Clock } from './clock.js';
import type { Wiring } from './wiring.js';

/**
 * Why something that came, or should have come, is not a number. Stable: records and counters use these words.
 * `implausible` and `wrong-unit` are found by the conditioning, which knows the channel's range and unit.
 */
export const faults = [
  /** A whole line that is not what the configuration describes. */
  'malformed',
  /** A byte outside printable ASCII: noise, or wrong parity or baud rate. */
  'damaged',
  /** More bytes than a line may have without a line end. */
  'oversize',
  /** The instrument says that the signal is above what it can show. */
  'over-range',
  /** The instrument says that the signal is below what it can show. */
  'under-range',
  /** The instrument says that it has no reading. */
  'no-reading',
  /** The instrument says that something is wrong with it. */
  'error-word',
  /** A question was not answered in time. */
  'no-answer',
  /** The instrument has no time for an answer now; the next question may find some. */
  'busy',
  /** The instrument refuses the question: it is set up otherwise than the configuration says. */
  'refused',
  /** The checksum does not match the bytes. */
  'checksum',
  /** A number that cannot be a pressure of this channel. */
  'implausible',
  /** The unit on the line is not the unit of the channel. */
  'wrong-unit',
] as const;
export type Fault = (typeof faults)[number];

/** A number, in the unit of the instrument and untouched, so that calibration can be repeated later. */
export interface Reading {
  readonly kind: 'reading';
  /** s, monotonic: when its last byte (the line end) arrived. */
  readonly time: number;
  /** Which value of the link it is; `pressure` where the link carries one. */
  readonly channel: string;
  /** As received; bytes outside printable ASCII as \xHH. */
  readonly raw: string;
  readonly value: number;
  /** As written on the line; `null` where the line names none. */
  readonly unit: string | null;
  /** What the bytes would say if a usual mistake had been made in the options; told where the number is no pressure. */
  readonly otherwise?: string;
}

/** A reading that did not come or cannot be trusted. */
export interface FaultReading {
  readonly kind: 'fault';
  readonly time: number;
  readonly channel: string;
  readonly raw: string;
  readonly fault: Fault;
  /** As in a reading. */
  readonly otherwise?: string;
}

/** The state of a switch that travels on the same line as the pressure. */
export interface ContactReading {
  readonly kind: 'contact';
  readonly time: number;
  readonly contact: 'lid' | 'pump' | 'vent';
  readonly state: 'open' | 'closed' | 'on' | 'off';
}

/** Something received that is no reading and no fault, kept for the raw log and the counters. */
export interface Dropped {
  readonly kind: 'dropped';
  readonly time: number;
  readonly raw: string;
  readonly why:
    /** The first line after opening may have begun before it. */
    | 'first-line'
    /** It came within the settling time after opening. */
    | 'settling'
    /** The configuration says to ignore such lines. */
    | 'ignored'
    /** It came when nothing was asked, or after its time was up. */
    | 'unasked'
    /** The link was lost before its line end came: half a number is no number. */
    | 'cut-off';
}

/** Something that a person should know; one clear sentence. */
export interface Notice {
  readonly kind: 'notice';
  readonly time: number;
  readonly code:
    /** The link is open; readings should follow. */
    | 'opened'
    /** The port has a name that another adapter may have after a replug. */
    | 'unsteady-name'
    /** Bytes come, but no line end for 3 s. */
    | 'no-line-end'
    /** Ten damaged lines in a row. */
    | 'check-parity'
    /** The instrument restarted. */
    | 'device-restart'
    /** Questions of the polling grid were left out because the one before was still open, or the computer was busy. */
    | 'poll-skipped'
    /** The answers say that the configuration does not fit the instrument. */
    | 'check-setup';
  readonly text: string;
  /** How often it happened, where that is more than once. */
  readonly count?: number;
}

/** What came over the wire. */
export type Received = Reading | FaultReading | ContactReading | Dropped | Notice;

/** A driver knows bytes and nothing else. */
export interface Driver<Options> {
  /** Checks what people write; every problem is told at once. */
  readonly options: z.ZodType<Options>;
  /** Where it reads from, for people: `/dev/ttyUSB0 (9600 8N1)`. */
  describe(options: Options): string;
  /**
   * Cold: subscribing opens the link, unsubscribing closes it. A bad frame is a value of the stream; only a lost link
   * ends it, with a `LinkError`. It completes when no more data can come (the end of a recording).
   * Retrying is not the driver's business.
   */
  read(options: Options, wiring: Wiring, clock: Clock): Observable<Received>;
}

/** The instrument's end of a link: bytes out, bytes in. */
export interface Wire {
  /** Sends, or drops when nobody takes it: a free-running instrument never waits. */
  send(bytes: Uint8Array): void;
  /** What the other side sends, as it comes. */
  onBytes(listener: (bytes: Uint8Array) => void): void;
  /** Pulls the plug: the other side sees the link go. */
  close(): Promise<void>;
}

/** Bytes that may wait for a reader before the instrument drops readings. */
export const sendLimit = 65_536;

/** ms between two signs of a scan at most; nobody types as fast for as long. */
const quick = 50;
/** Fewer signs than this may be fast typing. */
const shortest = 4;
const longest = 200;

/** What a key means for a scan. */
export type KeyNews =
  | { readonly kind: 'nothing' }
  /** In the middle of a scan: the key must do nothing else. */
  | { readonly kind: 'scanning' }
  | { readonly kind: 'scanned'; readonly text: string };

/**
 * Tells a barcode scanner that types like a keyboard (a wedge) from a person: its signs come at once and end with Enter.
 * Knows no page and no clock.
 */
export class WedgeReader {
  #text = '';
  #last = Number.NEGATIVE_INFINITY;

  /** One key as the browser names it, at a time in ms. */
  key(key: string, now: number): KeyNews {
    const fast = now - this.#last <= quick;
    this.#last = now;
    if (key === 'Enter' || key === 'Tab') {
      const text = fast ? this.#text.trim() : '';
      this.#text = '';
      return text.length >= shortest ? { kind: 'scanned', text } : { kind: 'nothing' };
    }
    // Shift and the like come between the signs of a scan.
    if ([...key].length !== 1) return { kind: 'nothing' };
    this.#text = fast ? (this.#text + key).slice(0, longest) : key;
    return this.#text.length >= shortest ? { kind: 'scanning' } : { kind: 'nothing' };
  }

  forget(): void {
    this.#text = '';
  }
}

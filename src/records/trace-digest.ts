import { createHash } from 'node:crypto';
import type { Samples } from './block-codec.js';

/** Samples that one link of the digest covers. */
const linkSize = 65_536;
const sampleSize = 25;

/**
 * SHA-256 over the samples of a run, however they are packed on the disk.
 *
 * Each sample is 25 bytes, little-endian: time (f64), pressure (f64), flags (u8), raw reading (f64, NaN where there was
 * none); every NaN is 7ff8000000000000. Each 65,536 samples are hashed, then the hashes one after the other.
 */
export class TraceDigest {
  private link = createHash('sha256');
  private inLink = 0;
  private readonly links = createHash('sha256');
  private readonly bytes = new Uint8Array(4096 * sampleSize);
  private readonly view = new DataView(this.bytes.buffer);
  /** Samples taken so far. */
  count = 0;

  add(samples: Samples): void {
    const { time, pressure, flags, raw } = samples;
    for (let from = 0; from < time.length; ) {
      const to = Math.min(time.length, from + 4096, from + linkSize - this.inLink);
      for (let i = from, at = 0; i < to; i++, at += sampleSize) {
        this.double(at, time[i]!);
        this.double(at + 8, pressure[i]!);
        this.view.setUint8(at + 16, flags[i]!);
        this.double(at + 17, raw ? raw[i]! : NaN);
      }
      this.link.update(this.bytes.subarray(0, (to - from) * sampleSize));
      this.inLink += to - from;
      this.count += to - from;
      if (this.inLink === linkSize) this.closeLink();
      from = to;
    }
  }

  /** 64 hex digits. Call once, at the end. */
  done(): string {
    if (this.inLink > 0) this.closeLink();
    return this.links.digest('hex');
  }

  private double(at: number, value: number): void {
    if (value === value) this.view.setFloat64(at, value, true);
    else this.view.setBigUint64(at, 0x7ff8000000000000n, true);
  }

  private closeLink(): void {
    this.links.update(this.link.digest());
    this.link = createHash('sha256');
    this.inLink = 0;
  }
}

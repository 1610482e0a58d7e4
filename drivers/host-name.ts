import { z } from 'zod';
import { quoted } from '../src/core/quoted.js';

const label = /^[A-Za-z0-9_]([A-Za-z0-9_-]*[A-Za-z0-9_])?$/;

/** Something that can be a host: a name of letters, digits, `-` and `.`, or an address in numbers (IPv6 with a zone, too). */
const isHost = (text: string): boolean => /^[0-9A-Fa-f:.]*:[0-9A-Fa-f:.]*(%\S+)?$/.test(text) || (text.length <= 253 && text.replace(/\.$/, '').split('.').every((part) => part.length <= 63 && label.test(part)));

/** The host that an instrument is reached at. */
export const hostName = z.string().refine(isHost, {
  error: (issue) => `${quoted(String(issue.input))} should be the name or the address of a host alone, for example indicator.shop.example or 192.0.2.12`,
});

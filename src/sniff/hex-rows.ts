/** Bytes in one row. */
const across = 16;

/** Rows of hex and printable characters, `0000  2b 30 ...  +0.23 bar..` */
export function hexRows(bytes: Uint8Array, most = 8): string[] {
  const rows: string[] = [];
  for (let at = 0; at < bytes.length && rows.length < most; at += across) {
    const part = [...bytes.subarray(at, at + across)];
    const hex = part.map((byte) => byte.toString(16).padStart(2, '0')).join(' ');
    const text = part.map((byte) => (byte >= 0x20 && byte <= 0x7e ? String.fromCharCode(byte) : '.')).join('');
    rows.push(`${at.toString(16).padStart(4, '0')}  ${hex.padEnd(across * 3 - 1)}  ${text}`);
  }
  return rows;
}

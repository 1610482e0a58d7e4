/** Remainder of each byte value by the polynomial 0x8005, bits reversed (0xA001). */
const table = Uint16Array.from({ length: 256 }, (_, byte) => {
  let rest = byte;
  for (let bit = 0; bit < 8; bit++) rest = rest & 1 ? (rest >> 1) ^ 0xa001 : rest >> 1;
  return rest;
});

/** CRC-16 of MODBUS over Serial Line V1.02, section 2.5.1.2; goes over the line low byte first. */
export function crc16(bytes: Uint8Array): number {
  let crc = 0xffff;
  for (const byte of bytes) crc = (crc >> 8) ^ (table[(crc ^ byte) & 0xff] as number);
  return crc;
}

/** The bytes with their checksum behind them. */
export function withCrc(bytes: Uint8Array): Buffer {
  const crc = crc16(bytes);
  return Buffer.concat([bytes, Buffer.from([crc & 0xff, crc >> 8])]);
}

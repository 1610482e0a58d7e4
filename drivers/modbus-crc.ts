/** Remainder of each byte value by the polynomial 0x8005, bits reversed (0xA001). */
const table = Uint16Array.from({ length: 256 }, (_, byte) => {
  let rest = byte;
  for (let bit = 0; bit < 8; bit++) rest = rest & 1 ? (rest >> 1) ^ 0xa001 : rest >> 1;
  return rest;
});

/** CRC-16 of a frame (MODBUS over Serial Line V1.02, 2.5.1.2); on the line the low byte comes first. */
export function modbusCrc(bytes: Uint8Array, from = 0, to = bytes.length): number {
  let crc = 0xffff;
  for (let i = from; i < to; i++) crc = (crc >> 8) ^ (table[(crc ^ (bytes[i] ?? 0)) & 0xff] ?? 0);
  return crc;
}

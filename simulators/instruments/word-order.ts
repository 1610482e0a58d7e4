/** How the bytes of a value of several registers lie; A is the most significant byte of a 32-bit value. */
export const wordOrders = ['ABCD', 'CDAB', 'BADC', 'DCBA'] as const;
export type WordOrder = (typeof wordOrders)[number];

/**
 * Reorders a value in place: from most significant byte first (ABCD) to `order`. CDAB turns the registers round, BADC
 * the two bytes within each, DCBA both. Values of 8 bytes follow the same two rules.
 */
export function reorder(value: Buffer, order: WordOrder): void {
  if (order === 'CDAB' || order === 'DCBA') value.reverse();
  if (order === 'CDAB' || order === 'BADC') value.swap16();
}

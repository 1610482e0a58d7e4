/** A text as a part of a file name that every system takes. */
export function fileName(text: string): string {
  const plain = text.normalize('NFKD').replaceAll(/\p{M}/gu, '').replaceAll(/[^A-Za-z0-9._-]+/g, '_').replace(/^[._]+/, '').slice(0, 60);
  return plain === '' ? 'unnamed' : plain;
}

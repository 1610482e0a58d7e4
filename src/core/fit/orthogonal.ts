/** Steps of the modified Gram-Schmidt process (Bjorck, BIT 7 (1967) 1), in place and without allocation. */

/** `count` columns of `n` zeros in one piece of memory, which is far cheaper than one piece each. */
export function columnBlock(n: number, count: number): Float64Array[] {
  const block = new Float64Array(n * count);
  return Array.from({ length: count }, (_, k) => block.subarray(k * n, (k + 1) * n));
}

/** Scalar product; four running sums, so that one addition need not wait for the one before. */
export function dot(a: Float64Array, b: Float64Array): number {
  const n = a.length;
  let [s0, s1, s2, s3] = [0, 0, 0, 0];
  let i = 0;
  for (; i + 3 < n; i += 4) {
    s0 += (a[i] as number) * (b[i] as number);
    s1 += (a[i + 1] as number) * (b[i + 1] as number);
    s2 += (a[i + 2] as number) * (b[i + 2] as number);
    s3 += (a[i + 3] as number) * (b[i + 3] as number);
  }
  for (; i < n; i++) s0 += (a[i] as number) * (b[i] as number);
  return s0 + s1 + (s2 + s3);
}

/** Makes the length 1 and returns what it was. */
export function normalise(v: Float64Array): number {
  const length = Math.sqrt(dot(v, v));
  if (length > 0) for (let i = 0; i < v.length; i++) v[i] = (v[i] as number) / length;
  return length;
}

/** Takes the part along the unit vector `q` out of `v` and returns how much it was. */
export function project(q: Float64Array, v: Float64Array): number {
  const part = dot(q, v);
  for (let i = 0; i < v.length; i++) v[i] = (v[i] as number) - part * (q[i] as number);
  return part;
}

/**
 * Orthonormal columns that span the same space, each freed twice from the ones before it; a column that lies within
 * the others' span is left out.
 */
export function orthonormal(columns: readonly Float64Array[]): Float64Array[] {
  const basis: Float64Array[] = [];
  const block = columnBlock(columns[0]?.length ?? 0, columns.length);
  for (let k = 0; k < columns.length; k++) {
    const v = block[k] as Float64Array;
    v.set(columns[k] as Float64Array);
    normalise(v);
    for (let twice = 0; twice < 2; twice++) for (const q of basis) project(q, v);
    if (normalise(v) > 1e-9) basis.push(v);
  }
  return basis;
}

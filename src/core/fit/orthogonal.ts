/** Steps of the modified Gram-Schmidt process (Bjorck, BIT 7 (1967) 1), in place and without allocation. */

/** Scalar product. */
export function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += (a[i] as number) * (b[i] as number);
  return sum;
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
  for (const column of columns) {
    const v = Float64Array.from(column);
    normalise(v);
    for (let twice = 0; twice < 2; twice++) for (const q of basis) project(q, v);
    if (normalise(v) > 1e-9) basis.push(v);
  }
  return basis;
}

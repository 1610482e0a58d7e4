/**
 * Lowest point of `f` between `low` and `high`, to within `tolerance`: golden sections and parabolas in turn.
 * Source: Brent, Algorithms for Minimization without Derivatives (1973), chapter 5. Where `f` has several minima,
 * one of them; NaN counts as infinitely high.
 */
export function boundedMinimum(f: (x: number) => number, low: number, high: number, tolerance: number): number {
  const golden = (3 - Math.sqrt(5)) / 2;
  const value = (x: number): number => {
    const y = f(x);
    return Number.isNaN(y) ? Infinity : y;
  };
  let [a, b] = [low, high];
  let x = a + golden * (b - a);
  let [w, v] = [x, x];
  let fx = value(x);
  let [fw, fv] = [fx, fx];
  let step = 0;
  let previous = 0;
  for (let k = 0; k < 100; k++) {
    const middle = (a + b) / 2;
    if (Math.abs(x - middle) <= 2 * tolerance - (b - a) / 2) break;
    let parabolic = false;
    if (Math.abs(previous) > tolerance) {
      const r = (x - w) * (fx - fv);
      const q0 = (x - v) * (fx - fw);
      const p = (x - v) * q0 - (x - w) * r;
      const q = 2 * (q0 - r);
      const jump = -p / q;
      if (Number.isFinite(jump) && Math.abs(jump) < Math.abs(previous / 2) && x + jump > a && x + jump < b) {
        previous = step;
        step = jump;
        parabolic = true;
        if (x + step - a < 2 * tolerance || b - x - step < 2 * tolerance) step = x < middle ? tolerance : -tolerance;
      }
    }
    if (!parabolic) {
      previous = x < middle ? b - x : a - x;
      step = golden * previous;
    }
    const u = x + (Math.abs(step) >= tolerance ? step : Math.sign(step || 1) * tolerance);
    const fu = value(u);
    if (fu <= fx) {
      if (u < x) b = x;
      else a = x;
      [v, fv, w, fw, x, fx] = [w, fw, x, fx, u, fu];
    } else {
      if (u < x) a = u;
      else b = u;
      if (fu <= fw || w === x) [v, fv, w, fw] = [w, fw, u, fu];
      else if (fu <= fv || v === x || v === w) [v, fv] = [u, fu];
    }
  }
  return x;
}

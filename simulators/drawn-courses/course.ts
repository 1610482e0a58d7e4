/**
 * Courses of pressure drawn from formulas by hand: a second opinion on the reading, because nothing in here is shared with
 * the physics of the simulated bench. The shapes and sizes are common practice.
 */
import type { Random } from '../random.js';

/** bar as a function of seconds since the piece began. */
type Shape = (t: number) => number;

/** A pressure made of pieces that follow each other. */
export class Course {
  private readonly pieces: { from: number; shape: Shape }[] = [];
  /** s, where the next piece begins. */
  end = 0;
  /** bar, where the next piece begins. */
  level = 0;

  add(length: number, shape: Shape): this {
    this.pieces.push({ from: this.end, shape });
    this.end += length;
    this.level = shape(length);
    return this;
  }

  at(t: number): number {
    let piece = this.pieces[0];
    for (const p of this.pieces) if (p.from <= t) piece = p;
    return piece === undefined ? 0 : piece.shape(t - piece.from);
  }

  /** Stays where it is. */
  rest(length: number): this {
    const { level } = this;
    return this.add(length, () => level);
  }

  /** By hand: strokes that lift like half a cosine and sag a little; the first ones compress what air is left. */
  pump(to: number, length: number, strokes: number, softness = 1): this {
    const { level } = this;
    return this.add(length, (t) => {
      const x = Math.min(strokes, (t / length) * strokes);
      const whole = Math.floor(x), part = x - whole;
      const lift = part < 0.45 ? (1 - Math.cos((Math.PI * part) / 0.45)) / 2 : 1;
      const sag = part > 0.45 ? 0.05 * (1 - Math.exp(-5 * (part - 0.45))) : 0;
      return level + (to - level) * (Math.min(1, (whole + lift) / strokes) ** softness - sag / strokes);
    });
  }

  /** An air-driven pump: quick at first, ever slower towards its stall pressure. */
  airPump(to: number, length: number, strokes: number): this {
    const { level } = this;
    return this.add(length, (t) => {
      const x = t / length;
      const way = (1 - Math.exp(-3 * x)) / (1 - Math.exp(-3));
      const beat = Math.abs(Math.sin((Math.PI * strokes * (1 - Math.exp(-2 * x))) / (1 - Math.exp(-2)))) - 0.6;
      return level + (to - level) * (way + 0.012 * (1 - x) * beat * Math.min(1, 4 * x));
    });
  }

  /** An intensifier: a ramp with a ripple. */
  ramp(to: number, length: number): this {
    const { level } = this;
    return this.add(length, (t) => {
      const x = t / length;
      return level + (to - level) * x * (1 + 0.002 * Math.sin(2 * Math.PI * 7 * t) * (1 - x) * Math.min(1, 5 * x));
    });
  }

  /** Lets it go through a valve: nearly empty after `length` (s). */
  vent(length: number): this {
    const { level } = this;
    return this.add(1.6 * length, (t) => level * Math.exp((-5 * t) / length));
  }
}

/** What is lost to heat and creep `t` seconds after pumping, bar. */
export interface Settling {
  readonly lost: Shape;
  /** s after pumping from which the loss is below 0.3 % of `pressure` a minute over the last ten seconds, 10 at least. */
  readonly over: number;
}

/** Two exponentials, and at times creep that goes on as a logarithm. */
export function settling(random: Random, pressure: number): Settling {
  const [quick, slow] = [random.between(0.001, 0.006) * pressure, random.between(0.0005, 0.004) * pressure];
  const [short, long] = [random.between(1.5, 6), random.between(10, 35)];
  const creep = random.chance(0.4) ? random.between(0.0002, 0.0008) * pressure : 0;
  const lost = (t: number): number => quick * (1 - Math.exp(-t / short)) + slow * (1 - Math.exp(-t / long)) + creep * Math.log1p(t / 5);
  let over = 10;
  while (lost(over) - lost(over - 10) > (0.003 * pressure) / 6 && over < 110) over += 0.1;
  return { lost, over };
}

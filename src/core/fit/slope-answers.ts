/** Answers of several courses to the question of the slope, each as likely as the pressures make it. */

/** What one course answers: a normal distribution. */
export interface Answer {
  /** bar/s */ readonly mean: number;
  /** bar/s */ readonly deviation: number;
  /** Logarithm of how likely the course is, up to a constant. */
  readonly logWeight: number;
}

/** Courses less likely than this are passed over. */
const lightest = 1e-5;

export class SlopeAnswers {
  /** Probability of each course, in the order given; they sum to 1. */
  readonly weights: Float64Array;
  private readonly means: Float64Array;
  private readonly deviations: Float64Array;
  private readonly heavy: Float64Array;
  /** bar/s, between which all that counts lies. */
  private readonly low: number;
  private readonly high: number;

  constructor(answers: readonly Answer[]) {
    const highest = answers.reduce((most, { logWeight }) => Math.max(most, logWeight), -Infinity);
    const odds = Float64Array.from(answers, ({ logWeight }) => Math.exp(logWeight - highest));
    const sum = odds.reduce((total, each) => total + each, 0);
    this.weights = odds.map((each) => each / sum);
    const parts = answers.filter((_, i) => (this.weights[i] as number) > lightest);
    this.means = Float64Array.from(parts, ({ mean }) => mean);
    this.deviations = Float64Array.from(parts, ({ deviation }) => deviation);
    this.heavy = this.weights.filter((weight) => weight > lightest);
    this.low = parts.reduce((least, { mean, deviation }) => Math.min(least, mean - 5 * deviation), Infinity);
    this.high = parts.reduce((most, { mean, deviation }) => Math.max(most, mean + 5 * deviation), -Infinity);
  }

  /** bar/s, below which the slope lies with this probability. */
  quantile(probability: number): number {
    return bisect((x) => this.below(x) - probability, this.low, this.high);
  }

  /** bar/s: the distance to either side of `centre` that holds this probability. */
  reachAround(centre: number, probability: number): number {
    return bisect((h) => this.below(centre + h) - this.below(centre - h) - probability, 0, Math.max(this.high - centre, centre - this.low));
  }

  private below(x: number): number {
    const { means, deviations, heavy } = this;
    let sum = 0;
    for (let i = 0; i < heavy.length; i++) sum += (heavy[i] as number) * quickNormalCdf((x - (means[i] as number)) / (deviations[i] as number));
    return sum;
  }
}

/** Root of a rising function. */
function bisect(f: (x: number) => number, from: number, to: number): number {
  let [low, high] = [from, to];
  for (let step = 0; step < 34; step++) {
    const middle = (low + high) / 2;
    if (f(middle) < 0) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** Normal distribution to 7.5e-8: Abramowitz and Stegun 26.2.17. */
export function quickNormalCdf(z: number): number {
  const t = 1 / (1 + 0.2316419 * Math.abs(z));
  const series = t * (0.31938153 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))));
  const tail = 0.3989422804014327 * Math.exp(-0.5 * z * z) * series;
  return z > 0 ? 1 - tail : tail;
}

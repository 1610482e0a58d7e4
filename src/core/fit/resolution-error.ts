/**
 * Standard error (bar/s) that rounding to steps adds to a slope.
 *
 * Rounding to multiples of q moves the mean reading at a true pressure s by the sum over k of
 * (-1)^k (q / pi k) exp(-2 (pi k sigma / q)^2) sin(2 pi k s / q): large where the noise sigma is small against the step,
 * and not averaged away by more samples (Widrow and Kollar, Quantization Noise, 2008, appendix G; first term used).
 * While the pressure moves over K steps in the window T, the sine of amplitude A tilts a straight line by up to
 * 6 A / (pi K T); its root mean square over the unknown phase is taken. With less than one step K = 1: a slope that
 * stays within a step cannot be seen at all.
 * @param resolution q, bar; 0 or less for none
 * @param residuals of the bins, bar
 * @param weight samples in a bin
 * @param slope bar/s
 * @param span T, s
 */
export function resolutionError(resolution: number, residuals: Float64Array, weight: Float64Array, slope: number, span: number): number {
  if (!(resolution > 0)) return 0;
  const sigma = Math.sqrt(Math.max(0, sampleVariance(residuals, weight) - resolution ** 2 / 12));
  const amplitude = (resolution / Math.PI) * Math.exp(-2 * ((Math.PI * sigma) / resolution) ** 2);
  const steps = Math.max(1, (Math.abs(slope) * span) / resolution);
  return (6 * amplitude) / (Math.SQRT2 * Math.PI * steps * span);
}

/** Noise of a sample from the steps between neighbouring bins (von Neumann 1941): what drifts slowly is left out. */
function sampleVariance(residuals: Float64Array, weight: Float64Array): number {
  let sum = 0;
  for (let i = 1; i < residuals.length; i++) {
    const difference = (residuals[i] as number) - (residuals[i - 1] as number);
    sum += difference ** 2 / (1 / (weight[i] as number) + 1 / (weight[i - 1] as number));
  }
  return residuals.length > 1 ? sum / (residuals.length - 1) : 0;
}

import type { Trace } from '../src/core/trace.js';
import type { TransducerSettings } from './transducer.js';

/** A recording in the project's own format: `time_s,pressure_bar`, as many decimals as the instrument shows. */
export function csvOf(samples: Pick<Trace, 'time' | 'pressure'>, transducer: Pick<TransducerSettings, 'resolution' | 'unitFactor'>): string {
  const decimals = decimalsOf(transducer.resolution * transducer.unitFactor);
  const rows = ['time_s,pressure_bar'];
  for (let i = 0; i < samples.time.length; i++) {
    rows.push(`${Number((samples.time[i] ?? 0).toFixed(4))},${(samples.pressure[i] ?? 0).toFixed(decimals)}`);
  }
  rows.push('');
  return rows.join('\n');
}

/** Decimals that a step needs: 0.01 -> 2, 0.5 -> 1, 14.5038 -> 4. */
export function decimalsOf(step: number): number {
  for (let decimals = 0; decimals < 4; decimals++) {
    const scaled = step * 10 ** decimals;
    if (Math.abs(scaled - Math.round(scaled)) < 1e-6 && scaled > 0.5) return decimals;
  }
  return 4;
}

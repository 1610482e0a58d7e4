import { basename } from 'node:path';
import { stringify } from 'yaml';
import { calibrationSchema } from '../acquisition/channel-config.js';
import { InputError, problemsOf } from '../core/problems.js';
import type { CalibrationResult } from './calibrate.js';

/** What stands on the certificate beside the points. */
export interface CertificateWords {
  readonly certificate: string;
  readonly date: string;
  readonly due: string;
  readonly serial: string;
  readonly laboratory?: string;
}

/** Significant digits: far below any uncertainty, and still a text that a person can copy. */
const digits = (value: number): number => Number(value.toPrecision(9));

/**
 * The `calibration` of a channel.
 * @throws InputError where a bench file would refuse it
 */
export function certificateBlock(words: CertificateWords, { constant, linear, quadratic, uncertainty, points }: CalibrationResult, source: string): string {
  const calibration = {
    ...words,
    uncertainty: `${Number(uncertainty.toPrecision(3))} bar`,
    coefficients: {
      constant: `${digits(constant.value)} bar`,
      linear: digits(linear.value),
      ...(quadratic === null ? {} : { quadratic: digits(quadratic.value) }),
    },
  };
  const checked = calibrationSchema.safeParse(calibration);
  if (!checked.success) throw new InputError(source, problemsOf(checked.error, calibration, Object.keys(calibration)));
  return `# ${quadratic === null ? 'straight line' : 'quadratic'} through ${points.length} points of ${basename(source).replaceAll(/[^\x20-\x7e\u00a0-\uffff]/g, '?')}\n${stringify({ calibration })}`;
}

/** Published calibrations, through the command: what a person types, what comes out, and what a bench makes of it. */
import { describe, expect, it } from 'vitest';
import { folderWith, run } from '../cli/run-cli.js';
import { norris, pontius } from './nist-datasets.js';

interface Told {
  readonly constant: { readonly value: number; readonly uncertainty: number };
  readonly linear: { readonly value: number; readonly uncertainty: number };
  readonly quadratic: { readonly value: number; readonly uncertainty: number } | null;
  readonly residualDeviation: number;
  readonly degreesOfFreedom: number;
  readonly over: readonly { readonly reading: number; readonly corrected: number; readonly curve: number }[];
}

async function calibrated(csv: string, ...args: string[]): Promise<Told> {
  const { code, stdout, stderr } = await run(folderWith({ 'points.csv': csv }), 'calibrate', 'points.csv', '--json', ...args);
  if (code !== 0) throw new Error(stderr);
  return JSON.parse(stdout) as Told;
}

/** Digits that agree: -log10 of the relative error. */
const digits = (found: number | undefined, certified: number): number => -Math.log10(Math.max(1e-17, Math.abs((found ?? NaN) / certified - 1)));

describe('NIST Statistical Reference Datasets, to 9 digits', () => {
  it('Norris: a straight line (y is the reference of ours, x the reading)', async () => {
    const told = await calibrated(`reading_bar,reference_bar\n${norris.map(([x, y]) => `${x},${y}\n`).join('')}`);
    expect(digits(told.constant.value, -0.262323073774029)).toBeGreaterThan(9);
    expect(digits(told.constant.uncertainty, 0.232818234301152)).toBeGreaterThan(9);
    expect(digits(told.linear.value, 1.00211681802045)).toBeGreaterThan(9);
    expect(digits(told.linear.uncertainty, 0.429796848199937e-3)).toBeGreaterThan(9);
    expect(digits(told.residualDeviation, 0.884796396144373)).toBeGreaterThan(9);
    expect([told.degreesOfFreedom, told.quadratic]).toEqual([34, null]);
  });

  it('Pontius: a load cell, quadratic (a million counts stand for 1 bar)', async () => {
    const csv = `load_counts,reference_bar\n${pontius.map(([x, y]) => `${x},${y}\n`).join('')}`;
    const told = await calibrated(csv, '--degree', '2', '--reading-column', 'load_counts', '--scaling', '0..1000000 counts = 0..1 bar');
    expect(digits(told.constant.value, 0.673565789473684e-3)).toBeGreaterThan(9);
    expect(digits(told.constant.uncertainty, 0.107938612033077e-3)).toBeGreaterThan(9);
    expect(digits(told.linear.value, 0.732059160401003)).toBeGreaterThan(9);
    expect(digits(told.linear.uncertainty, 0.157817399981659e-3)).toBeGreaterThan(9);
    expect(digits(told.quadratic?.value, -0.316081871345029e-2)).toBeGreaterThan(9);
    expect(digits(told.quadratic?.uncertainty, 0.486652849992036e-4)).toBeGreaterThan(9);
    expect(digits(told.residualDeviation, 0.205177424076185e-3)).toBeGreaterThan(9);
    expect(told.degreesOfFreedom).toBe(37);
  });
});

describe('GUM (JCGM 100:2008), H.3', () => {
  const table = [
    [21.521, -0.171], [22.012, -0.169], [22.512, -0.166], [23.003, -0.159], [23.507, -0.164], [23.999, -0.165],
    [24.513, -0.156], [25.002, -0.157], [25.503, -0.159], [26.01, -0.161], [26.511, -0.16],
  ] as const;

  it('gives slope, scatter and the uncertainty of the curve, covariance and all', async () => {
    const told = await calibrated(`reading_bar,reference_bar\n${table.map(([t, b]) => `${t},${(t + b).toFixed(3)}\n`).join('')}`);
    // Published: y2 = 0.002 18, s(y2) = 0.000 67, s = 0.0035, 9 degrees of freedom.
    expect(told.linear.value - 1).toBeCloseTo(0.0021826977398873, 9);
    expect(told.linear.uncertainty).toBeCloseTo(0.00066793877, 9);
    expect(told.residualDeviation).toBeCloseTo(0.00349756396, 9);
    expect(told.degreesOfFreedom).toBe(9);
    // The constant counts from 0: y1 - 20 y2, y1 = -0.1712 at 20.
    expect(told.constant.value).toBeCloseTo(-0.17120379013135 - 20 * 0.0021826977398873, 9);
    // s(y1) = 0.0029, s(y2), r = -0.930 (GUM), and H.15 with the covariance, at the end of the range.
    const [s1, s2, cov] = [0.0028776, 0.00066793877, -1.78834e-6];
    const last = told.over.at(-1);
    const d = (last?.reading ?? NaN) - 20;
    expect(last?.curve).toBeCloseTo(Math.sqrt(s1 ** 2 + (d * s2) ** 2 + 2 * d * cov), 7);
  });
});

import { describe, expect, it } from 'vitest';
import type { Outcome } from '../../src/core/outcome.js';
import { plan, recording } from './bench-recording.js';
import { folderWith, namesIn, run } from './run-cli.js';

const outcomeOf = (stdout: string) => JSON.parse(stdout) as Outcome;

describe('judge', () => {
  it('passes a tight assembly: exit code 0, the verdict first', async () => {
    const folder = folderWith({ 'trace.csv': recording(), 'plan.yaml': plan });
    const { code, stdout, stderr } = await run(folder, 'judge', 'trace.csv', '--plan', 'plan.yaml');
    expect(stderr).toBe('');
    expect(stdout.split('\n')[0]).toBe("PASS  plan 'two-wire DN12 proof', thresholds 'standard'");
    expect(stdout).toContain('Somebody must still look for leakage');
    // No colours where nobody can see them.
    expect(stdout).not.toContain('\u001b');
    expect(code).toBe(0);
    expect(namesIn(folder)).toEqual(['plan.yaml', 'trace.csv']);
  });

  it('fails a pressure above the ceiling: exit code 1, what is broken before what is met', async () => {
    const folder = folderWith({ 'trace.csv': recording({ top: 612 }), 'plan.yaml': plan });
    const { code, stdout } = await run(folder, 'judge', 'trace.csv', '--plan', 'plan.yaml');
    expect(code).toBe(1);
    expect(stdout).toMatch(/^FAIL {2}/);
    expect(stdout.indexOf('broken')).toBeLessThan(stdout.indexOf('  met'));
    expect(stdout).toMatch(/broken\s+ceiling\s+\S/);
  });

  it('finds a hold that was cut short inconclusive: exit code 3', async () => {
    const folder = folderWith({ 'trace.csv': recording({ watched: 50 }), 'plan.yaml': plan });
    const { code, stdout } = await run(folder, 'judge', 'trace.csv', '--plan', 'plan.yaml', '--json');
    expect(code).toBe(3);
    const { verdict, findings } = outcomeOf(stdout);
    expect(verdict).toBe('inconclusive');
    expect(findings.filter(({ outcome }) => outcome === 'undecided').map(({ rule }) => rule)).toContain('hold');
  });

  it('prints the documented JSON: times in s, pressures in bar, null where something did not come', async () => {
    const folder = folderWith({ 'trace.csv': recording(), 'plan.yaml': plan });
    const { stdout } = await run(folder, 'judge', 'trace.csv', '--plan', 'plan.yaml', '--json');
    const outcome = outcomeOf(stdout);
    expect(Object.keys(outcome)).toEqual(expect.arrayContaining(['verdict', 'findings', 'cycles', 'events']));
    const [cycle] = outcome.cycles;
    expect(Object.keys(cycle ?? {})).toEqual(
      expect.arrayContaining(['rising', 'reached', 'settled', 'holdEnd', 'vented', 'peak', 'holdStartPressure', 'holdMinimum', 'drop', 'dropPercent', 'strokes', 'topUps', 'leak']),
    );
    // The recording rises from 3 s to 557 bar at 18 s, and enters the band at 544.5 bar.
    expect(cycle?.reached).toBeGreaterThan(17);
    expect(cycle?.reached).toBeLessThan(18.5);
    expect(cycle?.peak).toBeCloseTo(557, 0);
    for (const finding of outcome.findings) {
      expect(Object.keys(finding)).toEqual(expect.arrayContaining(['rule', 'outcome', 'measured', 'limit', 'unit', 'uncertainty', 'at', 'sentence']));
    }
  });

  it('judges several runs one by one: a list, and the worst exit code', async () => {
    const good = recording().trim().split('\n');
    const high = recording({ top: 612 }).trim().split('\n').slice(1);
    const later = high.map((row) => row.replace(/^[\d.]+/, (time) => (Number(time) + 400).toFixed(2)));
    const rest = Array.from({ length: 5000 }, (_, i) => `${(140 + i / 20).toFixed(2)},${(0.02 * (i % 3)).toFixed(2)}`);
    const folder = folderWith({ 'trace.csv': `${[...good, ...rest, ...later].join('\n')}\n`, 'plan.yaml': plan });
    const { code, stdout } = await run(folder, 'judge', 'trace.csv', '--plan', 'plan.yaml', '--json');
    const outcomes = JSON.parse(stdout) as Outcome[];
    expect(outcomes.map(({ verdict }) => verdict)).toEqual(['pass', 'fail']);
    expect(code).toBe(1);
  });

  it('gives the same outcome for a logger file in other units and signs, and tells how it was read', async () => {
    const own = recording();
    const logger = own
      .trim()
      .split('\n')
      .map((row, i) => {
        if (i === 0) return 'Zeit [ms];Druck [MPa]';
        const [time = '', pressure = ''] = row.split(',');
        return `${Math.round(Number(time) * 1000)};${(Number(pressure) / 10).toFixed(3).replace('.', ',')}`;
      })
      .join('\r\n');
    const folder = folderWith({ 'own.csv': own, 'logger.csv': `\ufeff${logger}\r\n`, 'plan.yaml': plan });
    const plain = await run(folder, 'judge', 'own.csv', '--plan', 'plan.yaml', '--json');
    const told = await run(folder, 'judge', 'logger.csv', '--plan', 'plan.yaml', '--json');
    expect(outcomeOf(told.stdout).findings.map(({ rule, outcome }) => [rule, outcome])).toEqual(outcomeOf(plain.stdout).findings.map(({ rule, outcome }) => [rule, outcome]));
    expect(plain.stderr).toBe('');
    expect(told.stderr).toContain("pressure from 'Druck [MPa]' in MPa");
    expect(told.stderr).toContain('parted by semicolons, numbers have a decimal comma');
  });

  it('measures without a plan and stays inconclusive', async () => {
    const { code, stdout } = await run(folderWith({ 'trace.csv': recording() }), 'judge', 'trace.csv', '--json');
    expect(code).toBe(3);
    expect(outcomeOf(stdout).verdict).toBe('inconclusive');
    expect(outcomeOf(stdout).plan).toBeNull();
  });

  it('takes thresholds from a file', async () => {
    const folder = folderWith({ 'trace.csv': recording(), 'plan.yaml': plan, 't.yaml': 'thresholds: wide\nspikeHeight: 3 %\n' });
    const { code, stdout } = await run(folder, 'judge', 'trace.csv', '--plan', 'plan.yaml', '--thresholds', 't.yaml', '--json');
    expect(code).toBe(0);
    expect(outcomeOf(stdout).thresholds).toBe('wide');
  });
});

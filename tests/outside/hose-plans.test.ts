import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { parsePlan } from '../../src/core/plan.js';
import { InputError } from '../../src/core/problems.js';
import { toBar } from '../../src/core/units.js';
import { findHose } from '../../src/plans/find-hose.js';
import { hoseSizes, hoseTables } from '../../src/plans/hose-tables.js';
import { planForHose, planKinds } from '../../src/plans/plan-for-hose.js';
import { parseRating } from '../../src/plans/rating.js';

const rating = (text: string) => parseRating(text, '--fitting-rating');
const planOf = (yaml: string) => parsePlan(parse(yaml), 'plan.yaml');

describe('FC-48: the working pressure is that of the weakest part', () => {
  // http://associationdatabase.com/aws/NAHAD/pt/sd/news_article/109637/_PARENT/layout_details_news/false
  const assembly = { hose: rating('350 bar'), fittings: [rating('315 bar'), rating('420 bar')], kind: 'proof' } as const;

  it('hose 350, ends 315 and 420: working 315, proof 630 and not 700', () => {
    const yaml = planForHose(assembly);
    expect(planOf(yaml).testPressure).toBe(630);
    expect(yaml).toContain('# Working pressure of the assembly: 315 bar, that of its weakest part (a fitting).');
  });

  it('a hold of 29.9 s is too short, 30 s is not', () => {
    expect(() => planForHose({ ...assembly, hold: '29.9 s' })).toThrow(InputError);
    expect(planOf(planForHose({ ...assembly, hold: '30 s' })).holdTime).toBe(30);
    expect(planForHose({ ...assembly, hold: '2 min' })).toContain('a rule of your own');
  });
});

describe('plans from the standards', () => {
  it('proves at twice the working pressure for 60 s (ISO 6605:2017, 5.2.1)', () => {
    const plan = planOf(planForHose({ hose: findHose('ISO 1436 2SN DN12'), fittings: [rating('350 bar')], kind: 'proof' }));
    expect(plan).toMatchObject({ testPressure: 550, holdTime: 60, cycles: 1, allowTopUp: false });
    expect(plan.ceilingPressure).toBeLessThan(4 * 275);
  });

  it('tests leakage at 70 % of the minimum burst pressure, twice for 5 min (SAE J343)', () => {
    const plan = planOf(planForHose({ hose: findHose('2SN DN12.5'), fittings: [], kind: 'leakage' }));
    // 110 MPa minimum burst -> 77 MPa, 2.8 times the working pressure.
    expect(plan).toMatchObject({ testPressure: 770, holdTime: 300, cycles: 2 });
  });

  it('brings a burst test to four times the working pressure', () => {
    const yaml = planForHose({ hose: findHose('SAE 100R12 -8'), fittings: [], kind: 'burst' });
    expect(yaml).toContain('testPressure: 16000 psi');
    expect(planOf(yaml).testPressure).toBeCloseTo(toBar(16_000, 'psi'), 9);
    expect(planOf(yaml).reachTolerance).toEqual({ kind: 'fraction', value: 0 });
  });

  it('calls what destroys the assembly destructive, and only that', () => {
    const of = (kind: (typeof planKinds)[number]) => planForHose({ hose: findHose('2SN DN12'), fittings: [], kind });
    expect(of('burst')).toContain('# DESTRUCTIVE');
    expect(of('leakage')).toContain('# DESTRUCTIVE');
    expect(of('proof')).not.toContain('DESTRUCTIVE');
    for (const kind of planKinds) {
      expect(of(kind)).toContain('# High pressure hurts');
      expect(of(kind)).toContain('the data of the hose maker rule');
    }
  });

  it('writes a plan that is read without an error for every hose and kind', () => {
    for (const { standards, types } of hoseTables) {
      for (const { name } of types) {
        const sizes = hoseSizes.filter(({ dash }) => types.some((type) => type.name === name && (type.workingPressure[String(dash)] ?? type.workingPressure['all']) !== undefined));
        for (const { dn } of sizes) {
          const hose = findHose(`${standards[0]?.name ?? ''} ${name} DN${dn}`);
          for (const kind of planKinds) {
            const factor = { proof: 2, leakage: 2.8, burst: 4 }[kind];
            expect(planOf(planForHose({ hose, fittings: [], kind })).testPressure, `${hose.name} ${dn}`).toBeCloseTo(hose.working.bar * factor, 6);
          }
        }
      }
    }
  });
});

import { spawnSync } from 'node:child_process';
import { describe, expect, it } from 'vitest';
import { waterAt } from '../../simulators/water.js';

/**
 * The simulator's water against an implementation of IAPWS-95 that is not ours: the Python package iapws as Debian ships
 * it (python3-iapws). Source of the formulation: IAPWS R6-95 (2018), 'Revised Release on the IAPWS Formulation 1995 for
 * the Thermodynamic Properties of Ordinary Water Substance for General and Scientific Use'.
 */
const program = `
import json, sys
from iapws import IAPWS95
temperatures, pressures = json.loads(sys.argv[1])
def checked(state):
    if state.status != 1: raise ArithmeticError(state.msg)
    return state
def line(celsius):
    start = checked(IAPWS95(T=celsius + 273.15, P=0.101325))
    for mpa in pressures:
        state = checked(IAPWS95(T=celsius + 273.15, P=mpa))
        squeezed = checked(IAPWS95(P=mpa, s=start.s))
        yield dict(celsius=celsius, mpa=mpa, modulus=1 / state.kappa / 1000, expansion=state.alfav,
                   ratio=state.rho / start.rho, rise=squeezed.T - 273.15 - celsius)
table7 = [dict(p=s.P, cv=s.cv, w=s.w) for s in (IAPWS95(T=300, rho=rho) for rho in (996.5560, 1005.308, 1188.202))]
json.dump(dict(table7=table7, grid=[row for celsius in temperatures for row in line(celsius)]), sys.stdout)
`;

/** degC and MPa, absolute. */
const temperatures = [10, 15, 20, 30, 40];
const pressures = [10, 20, 50, 80, 100, 200];

/** Pressures absolute in MPa, bulk modulus in GPa, expansion in 1/K, adiabatic rise from 0.101325 MPa in K. */
interface State {
  readonly celsius: number;
  readonly mpa: number;
  readonly modulus: number;
  readonly expansion: number;
  readonly ratio: number;
  readonly rise: number;
}

interface Answer {
  readonly table7: readonly { readonly p: number; readonly cv: number; readonly w: number }[];
  readonly grid: readonly State[];
}

let known: Answer | null = null;

/** Asked once, within a test, so that a missing program makes every test fail with this sentence. */
const answer = (): Answer => (known ??= answerOfIapws());

function answerOfIapws(): Answer {
  const { error, status, stdout, stderr } = spawnSync('/usr/bin/python3', ['-c', program, JSON.stringify([temperatures, pressures])], { encoding: 'utf8' });
  if (error !== undefined || status !== 0) {
    throw new Error(
      `/usr/bin/python3 with the module iapws is needed for this test; install it with 'sudo apt-get install python3-iapws' (${error?.message ?? stderr.trim().split('\n').at(-1)})`,
    );
  }
  return JSON.parse(stdout) as Answer;
}

/** Gauge pressure (bar) of an absolute one (MPa). */
const gauge = (mpa: number) => (mpa - 0.101325) * 10;

/** Adiabatic rise (K) of the simulator's water from zero gauge pressure, by the midpoint rule in steps of 5 bar. */
function rise(celsius: number, mpa: number): number {
  const steps = Math.ceil(gauge(mpa) / 5);
  const step = gauge(mpa) / steps;
  let warmer = 0;
  for (let i = 0; i < steps; i++) warmer += step * waterAt(celsius + warmer).adiabaticHeating((i + 0.5) * step);
  return warmer;
}

describe("the simulator's water against python3-iapws (IAPWS R6-95)", { timeout: 180_000 }, () => {
  /** The largest deviation from IAPWS-95, as a share, at some of the temperatures; where it is, for the message. */
  const worst = (celsius: readonly number[], share: (state: State) => number) => {
    const states = answer().grid.filter((state) => celsius.includes(state.celsius));
    expect(states).toHaveLength(celsius.length * pressures.length);
    return states
      .map((state) => ({ at: `${state.celsius} degC, ${state.mpa} MPa`, deviation: Math.abs(share(state)) }))
      .reduce((a, b) => (b.deviation > a.deviation ? b : a));
  };
  const within = (celsius: readonly number[], limit: number, share: (state: State) => number) => {
    const found = worst(celsius, share);
    expect(found.deviation, `largest deviation at ${found.at}`).toBeLessThan(limit);
  };
  const modulus = ({ celsius, mpa, modulus: right }: State) => 1 / (waterAt(celsius).compressibility(gauge(mpa)) * 1e4) / right - 1;
  const squeeze = ({ celsius, mpa, ratio }: State) => (waterAt(celsius).relativeDensity(gauge(mpa)) - 1) / (ratio - 1) - 1;
  const others = temperatures.filter((celsius) => celsius !== 20);

  // IAPWS R6-95 (2018), Table 7: p in MPa, cv in kJ/(kg K), speed of sound in m/s at 300 K and three densities.
  it('is asked of a program that gives the check values of the release', () => {
    const right = [[0.0992418352, 4.13018112, 1501.51914], [20.0022515, 4.06798347, 1534.92501], [700.004704, 3.4613558, 2443.57992]];
    answer().table7.forEach(({ p, cv, w }, i) => {
      [p, cv, w].forEach((value, j) => expect(Math.abs(value / (right[i]?.[j] ?? NaN) - 1)).toBeLessThan(1e-7));
    });
    expect(answer().table7).toHaveLength(right.length);
  });

  it('bulk modulus: within 0.04 % at 20 degC, 2.5 % from 10 to 40 degC', () => {
    within([20], 0.0004, modulus);
    within(others, 0.025, modulus);
  });

  it('expansion: within 0.15 % at 20 degC, 3 % from 10 to 40 degC', () => {
    const expansion = ({ celsius, mpa, expansion: right }: State) => waterAt(celsius).expansion(gauge(mpa)) / right - 1;
    within([20], 0.0015, expansion);
    within(others, 0.03, expansion);
  });

  // What is gained in density, not density itself, which would agree however wrong the stiffness is.
  it('gain of density over that at atmospheric pressure: within 0.04 % at 20 degC, 1.2 % from 10 to 40 degC', () => {
    within([20], 0.0004, squeeze);
    within(others, 0.012, squeeze);
  });

  it('adiabatic rise of temperature: within 0.2 % at 20 degC, 3 % from 10 to 40 degC', () => {
    const warming = ({ celsius, mpa, rise: right }: State) => rise(celsius, mpa) / right - 1;
    within([20], 0.002, warming);
    within(others, 0.03, warming);
  });
});

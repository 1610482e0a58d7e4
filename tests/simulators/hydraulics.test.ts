import { describe, expect, it } from 'vitest';
import { atmosphere, coolingTime, Hydraulics, orificeFlow, relativeFlow, type AssemblySettings } from '../../simulators/hydraulics.js';
import { Pump } from '../../simulators/pump.js';

/** A litre in a rigid vessel without air or creep. */
const rigid: AssemblySettings = { volume: 1000, expansion: 0, creep: [], air: 0, cooling: 50, temperature: 20 };
const hose: AssemblySettings = {
  volume: 800, expansion: 0.04, air: 1, cooling: 30, temperature: 20,
  creep: [{ compliance: 0.002, timeConstant: 5 }, { compliance: 0.001, timeConstant: 30 }],
};

/** Pumps at a constant flow (ml/s) until `pressure` (bar); returns the ml that went in. */
function fill(h: Hydraulics, pressure: number, flow = 5, dt = 0.001): number {
  let volume = 0;
  while (h.pressure < pressure) {
    h.step(dt, flow, 0, 0);
    volume += flow * dt;
  }
  return volume;
}

const rest = (h: Hydraulics, seconds: number, dt = 0.01): void => {
  for (let t = 0; t < seconds; t += dt) h.step(dt, 0, 0, 0);
};

describe('hydraulics', () => {
  it('loses no water: what was pumped in is inside', () => {
    for (const settings of [rigid, hose]) {
      const h = new Hydraulics(settings);
      const before = h.waterMass;
      let pumped = 0;
      while (h.pressure < 700) {
        h.step(0.001, 8, 0, 0);
        // Flow is volume at the present pressure; mass is that times the density there.
        pumped += (8 * 0.001 * h.waterMass) / h.waterVolume;
      }
      rest(h, 30);
      expect(Math.abs((h.waterMass - before) / pumped - 1)).toBeLessThan(0.01);
    }
  });

  it('warms on quick compression by what IAPWS-95 gives: 1.5009 K from 20 degC to 80 MPa', () => {
    const h = new Hydraulics({ ...rigid, cooling: 1e9 });
    fill(h, 800, 50);
    expect(Math.abs(h.temperatureExcess / 1.5009 - 1)).toBeLessThan(0.04);
  });

  it('cooling after compression to 80 MPa costs at most about 1.2 MPa (IAPWS-95: 0.8223 MPa/K at constant volume), and nearly that in a rigid vessel', () => {
    const stiff = new Hydraulics(rigid);
    fill(stiff, 800, 50);
    const top = stiff.pressure;
    rest(stiff, 600);
    expect(top - stiff.pressure).toBeLessThan(12.6);
    expect(top - stiff.pressure).toBeGreaterThan(11);
    const soft = new Hydraulics({ ...rigid, expansion: 0.05 });
    fill(soft, 800, 50);
    const softTop = soft.pressure;
    rest(soft, 600);
    expect(softTop - soft.pressure).toBeLessThan(8);
    expect(softTop - soft.pressure).toBeGreaterThan(3);
  });

  it('has the cooling times of a long water column (Carslaw and Jaeger, 1959, with the diffusivity of water: 12.7 mm 48.70 s, 25.4 mm 194.78 s)', () => {
    expect(coolingTime(12.7)).toBeCloseTo(48.7, 1);
    expect(coolingTime(25.4)).toBeCloseTo(194.78, 1);
  });

  it('keeps Boyle: 1 ml at 0.101325 MPa abs is 0.0101325 ml at 10 MPa abs, 0.0012666 ml at 80', () => {
    const h = new Hydraulics({ ...rigid, air: 1 });
    h.pressure = 100 - atmosphere;
    expect(h.airVolume).toBeCloseTo(0.0101325, 7);
    h.pressure = 800 - atmosphere;
    expect(h.airVolume).toBeCloseTo(0.0012666, 7);
  });

  it('rises softly at first with trapped air, then stiffly', () => {
    const h = new Hydraulics({ ...hose, air: 20 });
    expect(h.complianceAt(2)).toBeGreaterThan(20 * h.complianceAt(200));
    expect(h.complianceAt(600)).toBeLessThan(h.complianceAt(20));
  });

  it('empties through an orifice along (sqrt(p0) - k t)^2, the closed form for a constant compliance', () => {
    // Low pressure and a wide hose: the compliance then changes by less than 0.3 %.
    const p0 = 50;
    const wide = { ...rigid, expansion: 1, volume: 1, cooling: 1e9 };
    const flow = orificeFlow(p0, new Hydraulics(wide).complianceAt(p0), 10);
    for (const until of [2, 5, 8]) {
      const h = new Hydraulics(wide);
      h.pressure = p0;
      for (let i = 0; i < until * 1000; i++) h.step(0.001, 0, flow * relativeFlow('orifice', h.pressure, p0), 0);
      expect(Math.sqrt(h.pressure / p0)).toBeCloseTo(1 - until / 10, 2);
    }
  });

  it('falls exponentially through a laminar leak', () => {
    const g = new Hydraulics({ ...rigid, expansion: 1, volume: 1, cooling: 1e9 });
    g.pressure = 400;
    const flow = g.complianceAt(400) * 40; // time constant 10 s
    for (let i = 0; i < 10_000; i++) g.step(0.001, 0, flow * relativeFlow('laminar', g.pressure, 400), 0);
    expect(g.pressure / 400).toBeCloseTo(Math.exp(-1), 2);
  });

  it('creeps by the final compliance and no further', () => {
    const h = new Hydraulics(hose);
    h.pressure = 500;
    for (let i = 0; i < 40_000; i++) {
      h.step(0.01, 0, 0, 0);
      h.pressure = 500;
    }
    expect(h.creepVolume).toBeCloseTo(0.003 * 500, 2);
  });

  it('tells what leakage alone costs: the difference to the same bench without the leak', () => {
    const [dry, wet] = [new Hydraulics(hose), new Hydraulics(hose)];
    fill(dry, 550);
    fill(wet, 550);
    for (let i = 0; i < 6000; i++) {
      const leak = 0.002 * relativeFlow('orifice', wet.pressure, 550);
      dry.step(0.01, 0, 0, 0);
      wet.step(0.01, 0, leak, leak);
    }
    expect(wet.lost).toBeGreaterThan(1);
    expect(Math.abs((dry.pressure - wet.pressure) / wet.lost - 1)).toBeLessThan(0.01);
  });

  it('never falls below zero and does not pull a vacuum', () => {
    const h = new Hydraulics(hose);
    fill(h, 100);
    for (let i = 0; i < 1000; i++) h.step(0.001, 0, 500, 0);
    expect(h.pressure).toBe(0);
  });
});

describe('pump', () => {
  const settings = { strokeVolume: 2, pushTime: 0.15, returnTime: 0.15, stallPressure: 800, strokeLoss: 0, stopLoss: 0, stopLossTime: 0.3 };
  const run = (pressure: number, seconds: number) => {
    const pump = new Pump(settings);
    let volume = 0;
    for (let i = 0; i < seconds * 1000; i++) volume += pump.step(i / 1000, 0.001, true, pressure) * 0.001;
    return { pump, volume };
  };

  it('delivers its stroke volume without back pressure', () => {
    const { pump, volume } = run(0, 10);
    expect(pump.completed).toBeGreaterThan(20);
    expect(volume / (pump.completed * settings.strokeVolume)).toBeCloseTo(1, 1);
  });

  it('slows down and delivers less a stroke toward its stall pressure, and nothing there', () => {
    const [low, high, stalled] = [run(100, 20), run(600, 20), run(800, 20)];
    expect(high.pump.completed).toBeLessThan(0.6 * low.pump.completed);
    expect(high.volume / high.pump.completed).toBeLessThan(low.volume / low.pump.completed);
    expect(stalled.volume).toBe(0);
  });

  it('lets water back through a worn valve when it is stopped', () => {
    const pump = new Pump({ ...settings, stopLoss: 1.5 });
    let back = 0;
    for (let i = 0; i < 2000; i++) back += Math.min(0, pump.step(i / 1000, 0.001, i < 1000, 0)) * 0.001;
    expect(back).toBeCloseTo(-1.5, 2);
  });
});

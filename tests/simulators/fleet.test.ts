import { describe, expect, it } from 'vitest';
import { DatabaseServer } from '../../simulators/fleet/database-server.js';
import { Fleet } from '../../simulators/fleet/feed-fleet.js';
import { fleetTrace } from '../../simulators/fleet/fleet-trace.js';

describe('a fleet', () => {
  it.each(['influxdb', 'victoria-metrics'] as const)('loses nothing on the way into one %s', async (engine) => {
    const server = await DatabaseServer.begin(engine);
    const fleet = new Fleet({ benches: 6, seconds: 20, rate: 200 });
    try {
      expect(await fleet.feed(server)).toMatchObject({ points: 6 * 20 * 200, differences: [] });
    } finally {
      fleet.end();
      await server.end();
    }
  });

  it('has benches that differ, and each is always the same', () => {
    expect(fleetTrace(1, 300, 10, 100)).toEqual(fleetTrace(1, 300, 10, 100));
    expect(fleetTrace(1, 300, 10, 100).pressure).not.toEqual(fleetTrace(2, 300, 10, 100).pressure);
    expect(Math.max(...fleetTrace(1, 300, 10, 100).pressure)).toBeGreaterThan(250);
  });
});

import { describe, expect, it } from 'vitest';
import { choosePort } from '../../drivers/ports.js';
import { listen } from './listen.js';

// FC-05: https://github.com/serialport/node-serialport/issues/329, https://github.com/Klipper3d/klipper/pull/4975
describe('FC-05: which port is the bench', () => {
  it('an adapter is found again by its serial number under another path', () => {
    const rule = { by: 'serial', serial: 'A1' } as const;
    expect(choosePort(rule, [{ path: '/dev/ttyUSB0', serial: 'A1' }, { path: '/dev/ttyUSB1', serial: 'B7' }])).toBe('/dev/ttyUSB0');
    expect(choosePort(rule, [{ path: '/dev/ttyUSB0', serial: 'B7' }, { path: '/dev/ttyUSB1', serial: 'A1' }])).toBe('/dev/ttyUSB1');
  });
  it('two that match are refused and listed', () => {
    const ports = [{ path: '/dev/ttyUSB0', id: '1a86:7523' }, { path: '/dev/ttyUSB1', id: '1a86:7523' }];
    const choose = () => choosePort({ by: 'id', id: '1A86:7523' }, ports);
    expect(choose).toThrow(expect.objectContaining({ name: 'LinkError', code: 'ambiguous' }) as Error);
    expect(choose).toThrow(/2 ports match .*\/dev\/ttyUSB0 .*\/dev\/ttyUSB1 .*none was opened/);
  });
  it('the socket tells two alike apart', () => {
    const ports = [
      { path: '/dev/ttyUSB0', id: '1a86:7523', socket: 'pci-0000:00:14.0-usb-0:2:1.0-port0' },
      { path: '/dev/ttyUSB1', id: '1a86:7523', socket: 'pci-0000:00:14.0-usb-0:3:1.0-port0' },
    ];
    expect(choosePort({ by: 'socket', socket: 'pci-0000:00:14.0-usb-0:3:1.0-port0' }, ports)).toBe('/dev/ttyUSB1');
  });
  it('none that matches is said, with what there is', () => {
    const choose = () => choosePort({ by: 'serial', serial: 'A1' }, [{ path: '/dev/ttyUSB0', serial: 'B7' }]);
    expect(choose).toThrow(/serial number A1 is not plugged in; serial ports found: \/dev\/ttyUSB0 \(serial B7\)/);
  });
  it('a bare number is taken, with a word of advice at each opening', () => {
    expect(listen({ path: '/dev/ttyUSB0' }).notices()).toEqual(['unsteady-name']);
    expect(listen({ path: '/dev/serial/by-id/usb-Example_A1-if00' }).notices()).toEqual([]);
    expect(listen({ path: undefined, match: { serial: 'A1' } }).wiring.opened).toMatchObject([{ port: { by: 'serial', serial: 'A1' } }]);
  });
});

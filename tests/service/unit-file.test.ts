import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it, onTestFinished } from 'vitest';
import { commandsOf, installService, type ServicePlan } from '../../src/service/install-service.js';
import { stableName } from '../../src/service/udev-rule.js';
import { unitFile, unitName, type UnitSetup } from '../../src/service/unit-file.js';
import { inputSchema, type InputOptions } from '../../drivers/index.js';

const setup = (change: Partial<UnitSetup> = {}): UnitSetup => ({
  bench: 'Bay 2', node: process.execPath, program: '/opt/dwellkeeper/dist/cli/main.js', benchFile: '/etc/dwellkeeper/bay-2.yaml', writes: ['/var/lib/dwellkeeper'], user: 'daemon', serial: true, ...change,
});

function folder(): string {
  const made = mkdtempSync(join(tmpdir(), 'dwellkeeper-unit-'));
  onTestFinished(() => rmSync(made, { recursive: true, force: true }));
  return made;
}

/** What systemd's own check says of a unit; nothing when it is right. */
function analyzed(text: string): string {
  const file = join(folder(), 'dwellkeeper-test.service');
  writeFileSync(file, text);
  const { stdout, stderr, error } = spawnSync('systemd-analyze', ['verify', '--man=no', file], { encoding: 'utf8' });
  if (error) throw error;
  // Of other units on the machine nothing is said here.
  return `${stdout}${stderr}`.split('\n').filter((line) => line.includes('dwellkeeper-test')).join('\n');
}

describe('the unit', () => {
  it.each([
    ['of a bench on a serial port', setup()],
    ['of a bench on the network', setup({ serial: false })],
    ['with odd names', setup({ bench: 'Süd "3" 100 %\nUser=root', benchFile: '/etc/dwell keeper/100 % $HOME "x".yaml', writes: ['/var/lib/a b', '/srv/50%'], plans: '/etc/dwell keeper/pläne 100 %' })],
  ])('%s is right in the eyes of systemd', (_what, from) => expect(analyzed(unitFile(from))).toBe(''));

  it('with a mistake would be told by systemd, which shows that the check looks', () => {
    expect(analyzed(unitFile(setup()).replace('Restart=always', 'Restart=sometimes'))).toMatch(/restart specifier/);
    expect(analyzed(unitFile(setup()).replace('ProtectSystem=', 'ProtectSystems='))).toMatch(/ProtectSystems/);
  });

  it('lets a name begin no setting of its own', () => {
    const text = unitFile(setup({ bench: 'x\nUser=root\nExecStartPre=/bin/sh' }));
    expect(text.split('\n').filter((line) => /^(User|ExecStart\w*)=/.test(line))).toEqual([`ExecStart=${process.execPath} /opt/dwellkeeper/dist/cli/main.js start --wait --last-good /var/lib/dwellkeeper/last-good /etc/dwellkeeper/bay-2.yaml`, 'User=daemon']);
  });

  it('is started again whatever ends it, watched, ready by its own word, and shut in', () => {
    const lines = unitFile(setup()).split('\n');
    expect(lines).toEqual(expect.arrayContaining([
      'Type=notify', 'NotifyAccess=all', 'Restart=always', 'StartLimitIntervalSec=0', 'WatchdogSec=60', 'ProtectSystem=strict', 'ReadWritePaths=/var/lib/dwellkeeper', 'ProtectHome=yes',
      'NoNewPrivileges=yes', 'CapabilityBoundingSet=', 'DevicePolicy=closed', 'SupplementaryGroups=dialout',
    ]));
    expect(unitFile(setup({ plans: '/etc/dwellkeeper/plans' })).split('\n')).toContain('ReadWritePaths=-/etc/dwellkeeper/plans');
    expect(unitFile(setup({ plans: '/var/lib/dwellkeeper/plans' })).match(/^ReadWritePaths=/gm)).toHaveLength(1);
    expect(unitFile(setup({ benchFile: '/home/jo/bench.yaml' }))).toContain('ProtectHome=no');
    expect(unitFile(setup({ serial: false }))).toContain('PrivateDevices=yes');
  });

  it('is rated as well shut in by systemd', () => {
    const file = join(folder(), 'dwellkeeper-test.service');
    writeFileSync(file, unitFile(setup()));
    const { stdout, stderr } = spawnSync('systemd-analyze', ['security', '--offline=yes', '--no-pager', file], { encoding: 'utf8' });
    const rated = /Overall exposure level for \S+: (\d+\.\d+)/.exec(stdout)?.[1];
    expect(rated, stderr).toBeDefined();
    // 0 is closed, 10 wide open; an ordinary unit has about 9.
    expect(Number(rated)).toBeLessThan(3.5);
  });

  it('has a plain name', () => {
    expect(['Bay 2', 'Süd/3', '../..', 'Prüfstand №1', '☂'].map(unitName)).toEqual([
      'dwellkeeper-bay-2.service', 'dwellkeeper-sud-3.service', 'dwellkeeper-bench.service', 'dwellkeeper-prufstand-no1.service', 'dwellkeeper-bench.service',
    ]);
  });
});

describe('a steady name for the port', () => {
  const input = (options: Record<string, unknown>): InputOptions => inputSchema.parse(options);
  const usb = input({ driver: 'serial-line', path: '/dev/ttyUSB0' });

  it('comes from the serial number of the adapter, or from its socket', () => {
    expect(stableName(usb, 'bay-2', [{ path: '/dev/ttyUSB0', serial: 'A10LX3V7', id: '0403:6001' }])).toEqual({
      kind: 'rule',
      device: '/dev/dwellkeeper/bay-2',
      text: '# Made by \'dwellkeeper service install\': /dev/ttyUSB0 keeps the name /dev/dwellkeeper/bay-2, whatever is plugged in first.\nSUBSYSTEM=="tty", ENV{ID_VENDOR_ID}=="0403", ENV{ID_MODEL_ID}=="6001", ENV{ID_SERIAL_SHORT}=="A10LX3V7", SYMLINK+="dwellkeeper/bay-2"\n',
    });
    expect(stableName(usb, 'bay-2', [{ path: '/dev/ttyUSB0', socket: 'pci-0000:00:14.0-usb-0:2:1.0-port0' }])).toMatchObject({ kind: 'rule', text: expect.stringContaining('ENV{ID_PATH}=="pci-0000:00:14.0-usb-0:2:1.0"') as string });
  });

  it('is not needed, or not to be had', () => {
    expect(stableName(input({ driver: 'serial-line', path: '/dev/serial/by-id/usb-x' }), 'b', [])).toMatchObject({ kind: 'steady' });
    expect(stableName(input({ driver: 'serial-line', match: { serial: 'A10LX3V7' } }), 'b', [])).toMatchObject({ kind: 'steady' });
    expect(stableName(input({ driver: 'tcp-line', host: '10.0.0.9', port: 4001 }), 'b', [])).toMatchObject({ kind: 'steady' });
    expect(stableName(usb, 'b', [])).toMatchObject({ kind: 'hint' });
  });

  it('lets no serial number write rules', () => {
    const found = stableName(usb, 'b', [{ path: '/dev/ttyUSB0', serial: 'x", RUN+="/bin/sh\n*' }]);
    expect(found.kind === 'rule' && found.text.split('\n').filter((line) => line.includes('RUN+=')).length === 1 && /=="x\?, RUN\+=\?\/bin\/sh\?\?"/.test(found.text)).toBe(true);
  });
});

describe('setting it up', () => {
  const plan = (writes: string): ServicePlan => ({ unit: 'dwellkeeper-bay-2.service', user: 'dwellkeeper', writes: [writes], files: [{ path: '/etc/systemd/system/dwellkeeper-bay-2.service', text: 'x\n' }, { path: '/etc/udev/rules.d/60-dwellkeeper-bay-2.rules', text: 'y\n' }] });

  it('makes a user and a folder where there are none, and leaves what is there to its owner', () => {
    const there = folder();
    expect(commandsOf(plan('/var/lib/not-there-yet'), false)).toEqual({
      before: [['useradd', '--system', '--user-group', '--no-create-home', '--home-dir', '/nonexistent', '--shell', '/usr/sbin/nologin', 'dwellkeeper']],
      after: [
        ['install', '-d', '-o', 'dwellkeeper', '-g', 'dwellkeeper', '-m', '0750', '/var/lib/not-there-yet'],
        ['udevadm', 'control', '--reload'], ['udevadm', 'trigger', '--subsystem-match=tty'], ['systemctl', 'daemon-reload'], ['systemctl', 'enable', 'dwellkeeper-bay-2.service'],
      ],
    });
    expect(commandsOf(plan(there), true)).toMatchObject({ before: [], after: [['runuser', '-u', 'dwellkeeper', '--', 'test', '-w', there], expect.anything(), expect.anything(), expect.anything(), expect.anything()] });
  });

  it('writes the files whole below another root and runs nothing', () => {
    const system = folder();
    const ran: unknown[] = [];
    installService(plan('/var/lib/x'), system, (command) => (ran.push(command), null));
    installService(plan('/var/lib/x'), system, (command) => (ran.push(command), null));
    expect(readFileSync(join(system, 'etc/systemd/system/dwellkeeper-bay-2.service'), 'utf8')).toBe('x\n');
    expect(readFileSync(join(system, 'etc/udev/rules.d/60-dwellkeeper-bay-2.rules'), 'utf8')).toBe('y\n');
    expect(ran).toEqual([]);
  });

  it('says in one sentence where systemd or the rights are missing', () => {
    expect(() => installService(plan('/var/lib/x'), null, () => null)).toThrow(/needs the rights of root|systemd does not run here/);
  });
});

import { spawn, type ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, onTestFinished, vi } from 'vitest';
import { ServiceNotify } from '../../src/watch/service-notify.js';
import { eventually } from '../integration/command-line.js';

/**
 * Stands for systemd: a datagram socket that takes words and closes whatever comes with them, by which systemd-notify
 * knows that they were read (sd_notify(3), BARRIER=1).
 */
const receiver = `
import array, os, socket, sys
s = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
s.bind(sys.argv[1])
print("bound", flush=True)
while True:
    text, extra, _, _ = s.recvmsg(65536, socket.CMSG_SPACE(64))
    for level, kind, content in extra:
        if level == socket.SOL_SOCKET and kind == socket.SCM_RIGHTS:
            for handle in array.array("i", content[: len(content) - len(content) % 4]):
                os.close(handle)
    print(repr(text.decode()), flush=True)
`;

let folder: string;
let manager: ChildProcess;
let socket: string;
const heard: string[] = [];
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-notify-'));
  socket = join(folder, 'notify');
  manager = spawn('/usr/bin/python3', ['-c', receiver, socket], { stdio: ['ignore', 'pipe', 'inherit'] });
  let text = '';
  manager.stdout?.setEncoding('utf8').on('data', (part: string) => {
    text += part;
    const lines = text.split('\n');
    text = lines.pop() ?? '';
    heard.push(...lines);
  });
  await eventually('the socket', () => heard.includes('bound'));
});
afterAll(async () => {
  manager.kill('SIGKILL');
  await once(manager, 'exit');
  rmSync(folder, { recursive: true, force: true });
});

describe('words to a real datagram socket', () => {
  it('say ready, beat as often as was asked for, tell the status when it changes, and say goodbye', async () => {
    vi.stubEnv('NOTIFY_SOCKET', socket);
    onTestFinished(() => void vi.unstubAllEnvs());
    let status = 'Bay 2: live, recording,\n0 runs';
    const troubles: unknown[] = [];
    const service = new ServiceNotify({ status: () => status, trouble: (error) => troubles.push(error), environment: { NOTIFY_SOCKET: socket, WATCHDOG_USEC: '400000' } });
    await service.ready();
    await eventually('ready', () => heard.some((line) => line.includes('READY=1') && line.includes('STATUS=Bay 2: live, recording, 0 runs')));
    await eventually('three beats', () => heard.filter((line) => line.includes('WATCHDOG=1')).length >= 3);
    status = 'Bay 2: live, recording, 1 run';
    await eventually('the new status', () => heard.some((line) => line.includes('WATCHDOG=1') && line.includes('1 run')));
    await service.stopping();
    await eventually('the end', () => heard.some((line) => line.includes('STOPPING=1')));
    expect(troubles).toEqual([]);
  });
});

describe('what is said', () => {
  const made = (environment: Record<string, string>, pid?: number) => {
    const said: string[][] = [];
    const troubles: unknown[] = [];
    const service = new ServiceNotify({ status: () => 'fine', trouble: (error) => troubles.push(error), environment, notify: (words) => (said.push([...words]), Promise.resolve()), ...(pid !== undefined && { pid }) });
    return { service, said, troubles };
  };

  it('is nothing without a service manager', async () => {
    const { service, said } = made({});
    await service.ready();
    await service.stopping();
    expect(said).toEqual([]);
  });

  it('is no beat where the watchdog is for another process', async () => {
    vi.useFakeTimers();
    onTestFinished(() => void vi.useRealTimers());
    const { service, said } = made({ NOTIFY_SOCKET: 's', WATCHDOG_USEC: '1000000', WATCHDOG_PID: '1' }, 2);
    await service.ready();
    await vi.advanceTimersByTimeAsync(10_000);
    expect(said).toEqual([['READY=1', 'STATUS=fine']]);
    await service.stopping();
  });

  it('comes at half the time allowed', async () => {
    vi.useFakeTimers();
    onTestFinished(() => void vi.useRealTimers());
    const { service, said } = made({ NOTIFY_SOCKET: 's', WATCHDOG_USEC: '60000000' });
    await service.ready();
    await vi.advanceTimersByTimeAsync(120_000);
    expect(said.filter((words) => words.includes('WATCHDOG=1'))).toHaveLength(4);
    await service.stopping();
    await vi.advanceTimersByTimeAsync(120_000);
    expect(said.at(-1)).toEqual(['STOPPING=1', 'STATUS=ending']);
  });

  it('that cannot be said is no reason to end', async () => {
    const troubles: unknown[] = [];
    const service = new ServiceNotify({ status: () => 'fine', trouble: (error) => troubles.push(error), environment: { NOTIFY_SOCKET: 's' }, notify: () => Promise.reject(new Error('no such socket')) });
    await service.ready();
    await service.stopping();
    expect(troubles).toHaveLength(2);
  });
});

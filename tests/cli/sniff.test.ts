import { spawn } from 'node:child_process';
import { createServer } from 'node:net';
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { until } from '../drivers/pty-pair.js';
import { folderWith, run } from './run-cli.js';

const program = fileURLToPath(new URL('../../src/setup/dwellkeeper.mjs', import.meta.url));

describe('sniff', () => {
  it('says in its help that it only reads', async () => {
    const { stdout } = await run(folderWith({}), 'sniff', '--help');
    expect(stdout.replaceAll(/\s+/g, ' ')).toMatch(/It only reads\. Nothing at all is sent unless --ask or --modbus is given; with --modbus only functions 1 to 4 .* are ever sent/);
  });
  it.each([
    [[], /sniff: PLACE: missing; name a serial port or HOST:PORT; serial ports found: /],
    [['ttyUSB0'], /'ttyUSB0' looks like a serial port without its folder; write '\/dev\/ttyUSB0'/],
    [['/dev/ttyNOWHERE'], /^sniff: \/dev\/ttyNOWHERE is not there; is the cable plugged in\n$/],
    [['192.0.2.10'], /'192\.0\.2\.10' has no TCP port; write HOST:PORT, for example 192\.0\.2\.10:4001/],
    [['/dev/ttyUSB0', '--modbus', '--unit-id', '0-3'], /--unit-id: 0 is the broadcast address/],
    [['/dev/ttyUSB0', '--expect', '12,3 bar'], /--expect: '12,3 bar' has a comma/],
    [['/dev/ttyUSB0', '--modbus', '--ask', '?'], /--ask/],
    [['/dev/ttyUSB0', '--baud', 'fast'], /numbers from 50 to 4000000, for example 9600,19200/],
  ])('%j is refused with a sentence', async (args, sentence) => {
    const { code, stderr, stdout } = await run(folderWith({}), 'sniff', ...args);
    expect(stderr).toMatch(sentence);
    expect([code, stdout]).toEqual([2, '']);
  });
  it('ends at Ctrl-C with what it knows; --json is one document', async () => {
    // Twenty lines and then silence: too few to end by itself.
    let lines = 0;
    const server = createServer((socket) => {
      const timer = setInterval(() => (++lines <= 20 ? socket.write('550.2 bar\r\n') : undefined), 20);
      socket.on('error', () => {});
      socket.on('close', () => clearInterval(timer));
    }).listen(0, '127.0.0.1');
    await once(server, 'listening');
    const address = server.address();
    const port = typeof address === 'object' ? address?.port : 0;
    const child = spawn(process.execPath, [program, 'sniff', `127.0.0.1:${port}`, '--each', '10 min', '--limit', '10 min', '--json'], { stdio: ['ignore', 'pipe', 'pipe'] });
    let stdout = '';
    child.stdout.setEncoding('utf8').on('data', (text: string) => (stdout += text));
    const closed = once(child, 'close');
    await until('the instrument has been silent for a while', () => lines >= 60, 120_000);
    child.kill('SIGINT');
    const [code] = (await closed) as [number | null];
    server.close();
    const said = JSON.parse(stdout) as { stopped: boolean; fits: { unit: string; readings: number[] }[]; bench: string };
    expect(said).toMatchObject({ stopped: true, fits: [{ unit: 'bar' }, {}, {}] });
    expect(new Set(said.fits[0]?.readings)).toEqual(new Set([550.2]));
    expect(said.bench).toContain('driver: tcp-line');
    expect(code).toBe(0);
  }, 180_000);
});

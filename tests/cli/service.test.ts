import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { describe, expect, it, onTestFinished } from 'vitest';
import { folderWith, namesIn, run } from './run-cli.js';

const benchFile = (more = ''): string => `bench: Bay 2\nstore: data/records.sqlite\n${more}channels:\n  - input: { driver: tcp-line, host: 127.0.0.1, port: 4001 }\n    unit: bar\n    range: { upper: 600 bar }\n`;

describe('service install', () => {
  it('--dry-run prints everything and does nothing', async () => {
    const folder = folderWith({ 'bench.yaml': benchFile() });
    const { code, stdout } = await run(folder, 'service', 'install', 'bench.yaml', '--dry-run');
    expect(stdout).toMatch(/# would run: useradd --system .* dwellkeeper\n# would write: \/etc\/systemd\/system\/dwellkeeper-bay-2\.service\n/);
    expect(stdout).toContain(`start --wait --last-good ${join(folder, 'data', 'last-good')} ${join(folder, 'bench.yaml')}\n`);
    expect(stdout).toContain(`ReadWritePaths=${join(folder, 'data')}\n`);
    expect(stdout).toMatch(/# would run: systemctl enable dwellkeeper-bay-2\.service/);
    expect(namesIn(folder)).toEqual(['bench.yaml']);
    expect(code).toBe(0);
  });

  it('--system writes below another root', async () => {
    const folder = folderWith({ 'bench.yaml': benchFile() });
    const { code, stdout } = await run(folder, 'service', 'install', 'bench.yaml', '--system', 'image', '--json');
    const plan = JSON.parse(stdout) as { unit: string; files: { path: string; text: string }[]; done: boolean };
    expect(plan).toMatchObject({ unit: 'dwellkeeper-bay-2.service', done: true });
    expect(readFileSync(join(folder, 'image/etc/systemd/system', plan.unit), 'utf8')).toBe(plan.files[0]?.text);
    expect(code).toBe(0);
  });

  it.each([
    [['bench.yaml', '--user', 'root'], /'root' should be a user with fewer rights/],
    [['bench.yaml', '--user', 'Joe Bloggs'], /'Joe Bloggs' should be a user name/],
    [['none.yaml'], /none\.yaml: there is no such file/],
    [['wrong.yaml', '--dry-run'], /wrong\.yaml: /],
    [['bench.yaml'], /service install: (needs the rights of root|systemd does not run here)/],
  ])('refuses %j with one sentence and exit code 2', async (args, sentence) => {
    const folder = folderWith({ 'bench.yaml': benchFile(), 'wrong.yaml': 'bench: Bay 2\n' });
    const { code, stderr, stdout } = await run(folder, 'service', 'install', ...args);
    expect(stderr).toMatch(sentence);
    expect([code, stdout]).toEqual([2, '']);
    expect(existsSync('/etc/systemd/system/dwellkeeper-bay-2.service')).toBe(false);
  });
});

describe('try-alerts', () => {
  it('sends a trial by every way and says what came of each', async () => {
    const bodies: string[] = [];
    const server = createServer((request, response) => {
      request.setEncoding('utf8').on('data', (part: string) => bodies.push(part));
      request.on('end', () => response.writeHead(request.url === '/good' ? 200 : 500).end());
    });
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    onTestFinished(() => void server.close());
    const { port } = server.address() as AddressInfo;
    const hook = (path: string) => `    - url: http://127.0.0.1:${port}/${path}\n`;
    const folder = folderWith({ 'bench.yaml': benchFile(`alerts:\n  webhooks:\n${hook('good')}${hook('bad')}`) });
    expect(await run(folder, 'try-alerts', 'bench.yaml')).toMatchObject({ code: 1, stderr: '', stdout: `webhook 127.0.0.1:${port}: taken\nwebhook 127.0.0.1:${port}: not taken, 127.0.0.1:${port} answered 500\n` });
    expect(bodies[0]).toContain('this is a trial');
    writeFileSync(join(folder, 'bench.yaml'), benchFile(`alerts:\n  webhooks:\n${hook('good')}`));
    expect((await run(folder, 'try-alerts', 'bench.yaml', '--json')).code).toBe(0);
  });

  it('needs somebody to tell, and secrets that are kept', async () => {
    const folder = folderWith({
      'bench.yaml': benchFile(),
      'secret.yaml': benchFile('alerts:\n  webhooks:\n    - { url: http://127.0.0.1:8009/, tokenFile: none.txt }\n'),
      'barred.yaml': benchFile('alerts:\n  webhooks:\n    - { url: http://127.0.0.1:9/ }\n'),
      'typo.yaml': benchFile('alerts:\n  webhook: []\n'),
    });
    expect(await run(folder, 'try-alerts', 'bench.yaml')).toMatchObject({ code: 2, stderr: expect.stringMatching(/bench\.yaml: alerts: missing/) as string });
    expect(await run(folder, 'check', 'secret.yaml')).toMatchObject({ code: 2, stderr: expect.stringMatching(/secret\.yaml: alerts\.webhooks\.tokenFile: .*none\.txt: there is no such file/) as string });
    expect(await run(folder, 'check', 'barred.yaml')).toMatchObject({ code: 2, stderr: expect.stringMatching(/alerts\.webhooks\.0\.url: port 9 belongs to another service, and no web request is ever sent to it/) as string });
    expect(await run(folder, 'check', 'typo.yaml')).toMatchObject({ code: 2, stderr: expect.stringMatching(/alerts\.webhook: unknown key; did you mean 'webhooks'\?/) as string });
  });
});

import { execFileSync } from 'node:child_process';
import { chmodSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createServer, type IncomingHttpHeaders, type Server } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { AddressInfo } from 'node:net';
import { SMTPServer, type SMTPServerOptions } from 'smtp-server';
import { afterAll, beforeAll, describe, expect, it, onTestFinished, vi } from 'vitest';
import type { Alert } from '../../../src/sinks/alerts/alert.js';
import { alertSchema, type AlertSettings } from '../../../src/sinks/alerts/alert-settings.js';
import { Alerts, waysOf } from '../../../src/sinks/alerts/alerts.js';
import { Outbox, outboxRules } from '../../../src/sinks/alerts/outbox.js';
import { DeliveryError, type Way } from '../../../src/sinks/alerts/way.js';

const software = 'dwellkeeper test';
let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-alerts-'));
  // A certificate for 'localhost' from an authority of the shop's own.
  execFileSync('openssl', ['req', '-x509', '-newkey', 'ed25519', '-nodes', '-days', '2', '-subj', '/CN=localhost', '-addext', 'subjectAltName=DNS:localhost,IP:127.0.0.1', '-keyout', join(folder, 'key.pem'), '-out', join(folder, 'cert.pem')], { stdio: 'ignore' });
  writeFileSync(join(folder, 'secret'), 'correct horse\n', { mode: 0o600 });
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const alert = (text = 'no data from /dev/ttyUSB0', state: Alert['state'] = 'begun'): Alert => ({ bench: 'Bay 2', subject: 'link', state, weight: 'alarm', text, wall: Date.UTC(2027, 2, 1, 8) });
const settings = (value: Record<string, unknown>): AlertSettings => alertSchema.parse(value);
const wayTo = (value: Record<string, unknown>): Way => waysOf(settings(value), software, 'bench.yaml')[0] ?? expect.fail('no way');
const closing = <T extends { close(done?: () => void): unknown }>(server: T): T => {
  onTestFinished(() => new Promise<void>((resolve) => void server.close(() => resolve())));
  return server;
};

interface Posted {
  readonly headers: IncomingHttpHeaders;
  readonly body: Record<string, string>;
}

/** A real web server; `answer` gives the status of each request. */
async function webServer(answer: (count: number) => number = () => 204, port = 0): Promise<{ server: Server; url: string; port: number; posted: Posted[] }> {
  const posted: Posted[] = [];
  const server = createServer((request, response) => {
    let text = '';
    request.setEncoding('utf8').on('data', (part: string) => (text += part));
    request.on('end', () => {
      posted.push({ headers: request.headers, body: JSON.parse(text) as Record<string, string> });
      response.writeHead(answer(posted.length), { location: 'http://127.0.0.1:1/elsewhere' }).end('thanks');
    });
  });
  await new Promise<void>((resolve) => server.listen(port, '127.0.0.1', resolve));
  const address = server.address() as AddressInfo;
  return { server, url: `http://127.0.0.1:${address.port}/hooks/abc123`, port: address.port, posted };
}

describe('a webhook', () => {
  it('gets the alert as JSON, with the token of its file', async () => {
    const { server, url, posted } = await webServer();
    closing(server);
    const way = wayTo({ webhooks: [{ url, tokenFile: join(folder, 'secret') }] });
    await way.deliver(alert());
    expect(posted).toHaveLength(1);
    expect(posted[0]?.headers).toMatchObject({ 'content-type': 'application/json', authorization: 'Bearer correct horse', 'user-agent': software });
    expect(posted[0]?.body).toEqual({
      bench: 'Bay 2', subject: 'link', state: 'begun', weight: 'alarm', sentence: 'no data from /dev/ttyUSB0', time: '2027-03-01T08:00:00.000Z',
      summary: 'Bay 2, alarm: no data from /dev/ttyUSB0', text: 'Bay 2, alarm: no data from /dev/ttyUSB0', software,
    });
    expect(way.name).not.toContain('abc123');
  });

  it.each([[500, false], [429, false], [401, false], [302, false], [400, true], [413, true]])('that answers %i is told as such (final: %s)', async (status, final) => {
    const { server, url } = await webServer(() => status);
    closing(server);
    const error = await wayTo({ webhooks: [{ url }] }).deliver(alert()).catch((reason: unknown) => reason);
    expect(error).toBeInstanceOf(DeliveryError);
    expect(error).toMatchObject({ final, message: expect.stringMatching(new RegExp(`^127\\.0\\.0\\.1:\\d+ answered ${status}$`)) as string });
  });

  it('that is not there is said so, without its address being given away', async () => {
    const { server, url, port } = await webServer();
    await new Promise((resolve) => server.close(resolve));
    const error = await wayTo({ webhooks: [{ url }] }).deliver(alert()).catch((reason: unknown) => reason);
    expect(error).toMatchObject({ final: false, message: `127.0.0.1:${port} cannot be reached (ECONNREFUSED)` });
  });
});

interface Mail {
  readonly from: string;
  readonly to: readonly string[];
  readonly text: string;
  readonly user: string;
  readonly secure: boolean;
}

/** A real SMTP server. */
async function mailServer(options: SMTPServerOptions = {}, port = 0): Promise<{ server: SMTPServer; port: number; mails: Mail[] }> {
  const mails: Mail[] = [];
  const server = new SMTPServer({
    authOptional: true,
    key: readFileSync(join(folder, 'key.pem')),
    cert: readFileSync(join(folder, 'cert.pem')),
    onAuth: ({ username, password }, _session, done) => (password === 'correct horse' ? done(null, { user: username ?? '' }) : done(new Error('Invalid username or password'))),
    onData(stream, session, done) {
      let text = '';
      stream.setEncoding('utf8').on('data', (part: string) => (text += part));
      stream.on('end', () => {
        const { mailFrom, rcptTo } = session.envelope;
        mails.push({ from: mailFrom === false ? '' : mailFrom.address, to: rcptTo.map(({ address }) => address), text, user: typeof session.user === 'string' ? session.user : '', secure: session.secure });
        done();
      });
    },
    ...options,
  });
  server.on('error', () => undefined);
  await new Promise<void>((resolve) => void server.listen(port, '127.0.0.1', resolve));
  return { server, port: (server.server.address() as AddressInfo).port, mails };
}

const mailTo = (port: number, more: Record<string, unknown> = {}): Record<string, unknown> => ({
  email: { server: 'localhost', port, security: 'none', from: 'bay2@shop.example', to: ['quality@shop.example', 'foreman@shop.example'], ...more },
});

describe('e-mail', () => {
  it('goes through STARTTLS with a password from a file, to everybody', async () => {
    const { server, port, mails } = await mailServer();
    closing(server);
    await wayTo(mailTo(port, { security: 'starttls', caFile: join(folder, 'cert.pem'), user: 'bay2', passwordFile: join(folder, 'secret') })).deliver(alert('Drück weg: no data'));
    expect(mails).toHaveLength(1);
    expect(mails[0]).toMatchObject({ from: 'bay2@shop.example', to: ['quality@shop.example', 'foreman@shop.example'], user: 'bay2', secure: true });
    expect(mails[0]?.text).toMatch(/^Subject: =\?UTF-8\?/m);
    expect(mails[0]?.text).toMatch(/^Auto-Submitted: auto-generated/mi);
  });

  it('goes over TLS from the first byte, and plainly within the house', async () => {
    const secure = await mailServer({ secure: true });
    closing(secure.server);
    await wayTo(mailTo(secure.port, { security: 'tls', caFile: join(folder, 'cert.pem') })).deliver(alert());
    const plain = await mailServer({ disabledCommands: ['STARTTLS', 'AUTH'] });
    closing(plain.server);
    await wayTo(mailTo(plain.port)).deliver(alert());
    expect([...secure.mails, ...plain.mails].map((mail) => [mail.secure, /^Subject: (.*)$/m.exec(mail.text)?.[1]?.trim()])).toEqual([
      [true, 'Bay 2, alarm: no data from /dev/ttyUSB0'], [false, 'Bay 2, alarm: no data from /dev/ttyUSB0'],
    ]);
  });

  it('never goes out in the clear where STARTTLS was wanted, nor to a server that nobody vouches for', async () => {
    const plain = await mailServer({ disabledCommands: ['STARTTLS'] });
    closing(plain.server);
    await expect(wayTo(mailTo(plain.port, { security: 'starttls' })).deliver(alert())).rejects.toBeInstanceOf(DeliveryError);
    const unknown = await mailServer();
    closing(unknown.server);
    await expect(wayTo(mailTo(unknown.port, { security: 'starttls' })).deliver(alert())).rejects.toBeInstanceOf(DeliveryError);
    expect([...plain.mails, ...unknown.mails]).toEqual([]);
  });

  it('with a wrong password says so without the password', async () => {
    writeFileSync(join(folder, 'wrong'), 'hunter2', { mode: 0o600 });
    const { server, port } = await mailServer();
    closing(server);
    const error: unknown = await wayTo(mailTo(port, { security: 'starttls', caFile: join(folder, 'cert.pem'), user: 'bay2', passwordFile: join(folder, 'wrong') })).deliver(alert()).catch((reason: unknown) => reason);
    expect(error).toMatchObject({ message: 'localhost does not take the user or the password', final: false });
  });

  it('that one of several does not get is told, and not sent to the others again', async () => {
    const { server, port, mails } = await mailServer({ onRcptTo: ({ address }, _session, done) => (address.startsWith('foreman') ? done(new Error('no such user')) : done()) });
    closing(server);
    await expect(wayTo(mailTo(port)).deliver(alert())).rejects.toMatchObject({ final: true, message: 'localhost refused foreman@shop.example' });
    expect(mails).toHaveLength(1);
  });
});

describe('secrets', () => {
  it('are refused with one sentence where they are not kept', () => {
    const way = (tokenFile: string) => wayTo({ webhooks: [{ url: 'https://hooks.example/x', tokenFile }] });
    writeFileSync(join(folder, 'open'), 'x');
    chmodSync(join(folder, 'open'), 0o644);
    writeFileSync(join(folder, 'empty'), '\n', { mode: 0o600 });
    expect(() => way(join(folder, 'open')).check()).toThrow(/bench\.yaml: alerts\.webhooks\.tokenFile: .*open may be read by everybody/);
    expect(() => way(join(folder, 'empty')).check()).toThrow(/empty is empty/);
    expect(() => way(join(folder, 'none')).check()).toThrow(/there is no such file/);
    expect(() => way(join(folder, 'secret')).check()).not.toThrow();
  });
});

describe('an outbox', () => {
  it('keeps alerts while the server is down and delivers them in order, once, when it is up', async () => {
    const first = await webServer();
    const { port } = first;
    await new Promise((resolve) => first.server.close(resolve));
    let now = 0;
    const outbox = new Outbox(wayTo({ webhooks: [{ url: `http://127.0.0.1:${port}/x` }] }), () => now);
    for (const text of ['one', 'two', 'three']) outbox.put(alert(text));
    await outbox.rest();
    expect(outbox.counts()).toMatchObject({ sent: 0, failedAttempts: 1, waiting: 3, trouble: `127.0.0.1:${port} cannot be reached (ECONNREFUSED)` });
    outbox.tick();
    await outbox.rest();
    expect(outbox.counts().failedAttempts).toBe(1);
    const { server, posted } = await webServer(() => 200, port);
    closing(server);
    now = 6;
    outbox.tick();
    await vi.waitFor(() => expect(outbox.counts()).toMatchObject({ sent: 3, waiting: 0, trouble: null }), 10_000);
    expect(posted.map(({ body }) => body['sentence'])).toEqual(['one', 'two', 'three']);
  });

  it('waits longer after each failure, and never longer than its limit', async () => {
    let now = 0;
    const tried: number[] = [];
    const way: Way = { name: 'w', check: () => undefined, deliver: () => (tried.push(now), Promise.reject(new DeliveryError('down', false))) };
    const outbox = new Outbox(way, () => now);
    outbox.put(alert());
    for (; now < 4000; now++) {
      outbox.tick();
      await outbox.rest();
    }
    expect(tried.slice(0, 6)).toEqual([0, 5, 15, 35, 75, 155]);
    expect(Math.max(...tried.map((time, i) => time - (tried[i - 1] ?? time)))).toBe(outboxRules.backoffCap);
  });

  it('gives up one message that is refused for good, not the ones behind it', async () => {
    let now = 0;
    const way: Way = { name: 'w', check: () => undefined, deliver: ({ text }) => (text === 'bad' ? Promise.reject(new DeliveryError('no', true)) : Promise.resolve()) };
    const outbox = new Outbox(way, () => now);
    outbox.put(alert('bad'));
    outbox.put(alert('good'));
    for (; now < 60; now++) {
      outbox.tick();
      await outbox.rest();
    }
    expect(outbox.counts()).toEqual({ sent: 1, failedAttempts: 3, givenUp: 1, waiting: 0, trouble: null });
  });

  it('is bounded, drops the oldest, and counts what is lost', async () => {
    let now = 0;
    const way: Way = { name: 'w', check: () => undefined, deliver: () => Promise.reject(new DeliveryError('down', false)) };
    const outbox = new Outbox(way, () => now);
    for (let i = 0; i < 150; i++) outbox.put(alert(String(i)));
    await outbox.rest();
    expect(outbox.counts()).toMatchObject({ waiting: 100, givenUp: 50 });
    now = 8 * 86_400;
    outbox.tick();
    expect(outbox.counts()).toMatchObject({ waiting: 0, givenUp: 150 });
  });
});

describe('alerts of a bench', () => {
  it('say on the page that they do not get through, and when they do again', async () => {
    let now = 0;
    let up = false;
    const notices: (string | null)[] = [];
    const way: Way = { name: 'webhook h', check: () => undefined, deliver: () => (up ? Promise.resolve() : Promise.reject(new DeliveryError('h answered 500', false))) };
    const alerts = new Alerts({ bench: 'Bay 2', settings: settings({ webhooks: [{ url: 'http://h.example/' }], after: '1 s' }), ways: [way], notice: (text) => notices.push(text), now: () => now });
    alerts.noticed({ subject: 'link', weight: 'alarm', text: 'no data' });
    for (; now < 20; now++) {
      alerts.tick();
      await alerts.stop(50);
    }
    up = true;
    for (; now < 60; now++) {
      alerts.tick();
      await alerts.stop(50);
    }
    expect(notices).toEqual(['alerts do not get through: webhook h: h answered 500', null]);
    expect(alerts.counts()).toMatchObject([{ way: 'webhook h', sent: 1, waiting: 0 }]);
  });
});

import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { request } from 'node:https';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { PeerCertificate, TLSSocket } from 'node:tls';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { WebSocket } from 'ws';
import { FrontDoor } from '../../src/access/front-door.js';
import { readTls, tlsNotice } from '../../src/access/tls-files.js';
import { HttpServer } from '../../src/server/http-server.js';
import { nameOf, peopleOfTests, secrets } from '../access/people-of-tests.js';
import { ScriptedFeed } from './scripted-feed.js';
import { until } from './until.js';

const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-tls-'));
const at = (name: string): string => join(folder, name);
const openssl = (...args: string[]): void => void execFileSync('openssl', args, { stdio: 'pipe' });
const day = 86_400_000;

beforeAll(() => {
  for (const name of ['one', 'two']) {
    openssl('req', '-x509', '-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes', '-days', '30', '-subj', `/CN=${name}`, '-addext', 'subjectAltName=DNS:localhost,IP:127.0.0.1', '-keyout', at(`${name}.key`), '-out', at(`${name}.pem`));
  }
  openssl('ec', '-aes256', '-passout', 'pass:locked', '-in', at('one.key'), '-out', at('locked.key'));
  writeFileSync(at('words.pem'), 'not a certificate\n');
  execFileSync('chmod', ['600', at('locked.key'), at('words.pem')]);
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('certificate and key', () => {
  const say = (certificate: string, key: string, now = Date.now(), evenExpired = false): string => {
    try {
      readTls({ certificate: at(certificate), key: at(key) }, 'bench.yaml', now, evenExpired);
      return '';
    } catch (error) {
      return String(error).replaceAll(`${folder}/`, '');
    }
  };
  it.each<[string, string, number, string]>([
    ['one.pem', 'one.key', 0, ''],
    ['none.pem', 'one.key', 0, 'InputError: bench.yaml: page.tls.certificate: none.pem: there is no such file'],
    ['one.pem', 'none.key', 0, 'InputError: bench.yaml: page.tls.key: none.key: there is no such file'],
    ['.', 'one.key', 0, 'cannot be read (EISDIR)'],
    ['words.pem', 'one.key', 0, 'words.pem is no certificate in PEM (it should begin with -----BEGIN CERTIFICATE-----)'],
    ['one.pem', 'words.pem', 0, 'words.pem is no private key in PEM'],
    ['one.pem', 'locked.key', 0, 'locked.key is locked by a pass phrase, which nobody could type at a start by itself'],
    ['one.pem', 'two.key', 0, 'two.key is not the key of the certificate one.pem; give the two that were made together'],
    ['one.pem', 'one.key', 31, 'one.pem was valid until '],
    ['one.pem', 'one.key', -2, 'one.pem is valid only from '],
  ])('%s with %s, %i days from now: %s', (certificate, key, days, sentence) => {
    const said = say(certificate, key, Date.now() + days * day);
    if (sentence === '') expect(said).toBe('');
    else expect(said).toContain(sentence);
    expect(said).not.toContain('\n');
  });

  it('does not keep an unattended bench from recording because it ran out, and says so', () => {
    const late = Date.now() + 31 * day;
    expect(say('one.pem', 'one.key', late, true)).toBe('');
    const tls = readTls({ certificate: at('one.pem'), key: at('one.key') }, '', Date.now());
    expect(tlsNotice(tls, Date.now())).toBeNull();
    expect(tlsNotice(tls, Date.now() + 20 * day)).toMatch(/is valid until \d{4}-\d\d-\d\d; have it renewed/);
    expect(tlsNotice(tls, late)).toMatch(/was valid until/);
  });

  it('refuses a key that everybody may read', () => {
    execFileSync('cp', [at('one.key'), at('open.key')]);
    execFileSync('chmod', ['644', at('open.key')]);
    expect(say('one.pem', 'open.key')).toContain('open.key may be read by everybody on this computer; run chmod o= on it');
  });
});

describe('pages over TLS', () => {
  const pair = (name: string) => readTls({ certificate: at(`${name}.pem`), key: at(`${name}.key`) }, '', Date.now());
  let server: HttpServer;
  beforeAll(async () => {
    mkdirSync(at('pages/live'), { recursive: true });
    writeFileSync(at('pages/live/index.html'), 'live');
    server = await HttpServer.start({ benches: [new ScriptedFeed('north')], pages: at('pages'), address: '0.0.0.0', door: new FrontDoor({ people: await peopleOfTests() }), tls: pair('one') });
  });
  afterAll(() => server.close());

  interface Answer { readonly status: number; readonly headers: Record<string, unknown>; readonly body: string; readonly by: PeerCertificate }
  const ask = (path: string, certificate: string, body?: unknown): Promise<Answer> =>
    new Promise((resolve, reject) => {
      const { port } = new URL(server.address);
      const headers = { host: `localhost:${port}`, origin: `https://localhost:${port}`, ...(body !== undefined && { 'content-type': 'application/json' }) };
      const sent = request({ host: '127.0.0.1', port, path, servername: 'localhost', ca: readFileSync(at(`${certificate}.pem`)), method: body === undefined ? 'GET' : 'POST', headers, agent: false }, (answer) => {
        const by = (answer.socket as TLSSocket).getPeerCertificate();
        let text = '';
        answer.setEncoding('utf8').on('data', (part: string) => (text += part)).on('end', () => resolve({ status: answer.statusCode ?? 0, headers: answer.headers, body: text, by }));
      });
      sent.on('error', reject);
      sent.end(body === undefined ? undefined : JSON.stringify(body));
    });
  const signIn = () => ask('/api/sign-in', 'one', { name: nameOf('operator'), secret: secrets.operator });

  it('are served by the certificate, with a cookie that never goes in clear and live data', async () => {
    const { port } = new URL(server.address);
    expect(server.address).toBe(`https://0.0.0.0:${port}`);
    const answer = await signIn();
    expect(answer.status).toBe(200);
    const [set = ''] = answer.headers['set-cookie'] as string[];
    expect(set).toMatch(/^__Host-dwellkeeper-[0-9a-f]{8}=[\w-]{43}; .*HttpOnly; Secure; SameSite=Strict$/);
    expect(String(answer.headers['content-security-policy'])).toContain(`connect-src 'self' wss://localhost:${port}`);
    const socket = new WebSocket(`wss://localhost:${port}/live/socket?bench=north`, { ca: readFileSync(at('one.pem')), headers: { origin: `https://localhost:${port}`, cookie: set.split(';')[0] ?? '' } });
    let heard = 0;
    socket.on('message', () => heard++);
    await until('live data comes', () => heard > 0);
    socket.terminate();
  });

  it('are not served in clear', async () => {
    await expect(fetch(`${server.address.replace('https', 'http').replace('0.0.0.0', '127.0.0.1')}/api/me`)).rejects.toThrow();
  });

  it('go on under another certificate, without a new start', async () => {
    expect((await ask('/api/me', 'one')).by.subject.CN).toBe('one');
    server.renew(pair('two'));
    expect((await ask('/api/me', 'two')).by.subject.CN).toBe('two');
    await expect(ask('/api/me', 'one')).rejects.toThrow();
    server.renew(pair('one'));
  });
});

import { describe, expect, it } from 'vitest';
import { LiveConnection, type Socket, type SocketEvents } from '../../dashboards/live/connection.js';
import { encodeFrame } from '../../src/sinks/live-frame.js';
import { protocolVersion } from '../../src/sinks/live-protocol.js';
import { wireSetup } from '../../src/sinks/live-setup.js';
import { ScriptedFeed } from '../server/scripted-feed.js';

/** A page's connection with the network and the clock in the test's hands. */
function playground(last: number | null = null) {
  const feed = new ScriptedFeed();
  const sockets: { events: SocketEvents; said: unknown[]; closed: boolean }[] = [];
  const seen = { messages: [] as string[], samples: 0 };
  let now = 0;
  const connection = new LiveConnection({
    open: (events): Socket => {
      const mine = { events, said: [] as unknown[], closed: false };
      sockets.push(mine);
      return { send: (text) => mine.said.push(JSON.parse(text)), close: () => (mine.closed = true) };
    },
    now: () => now,
    lastNumber: (session) => (session === 'first' ? last : null),
    onMessage: ({ kind }) => seen.messages.push(kind),
    onFrame: (frame) => (seen.samples += frame.time.length),
  });
  const newest = () => {
    const socket = sockets.at(-1);
    if (!socket) throw new Error('never connected');
    return socket;
  };
  const greet = (protocol = protocolVersion) =>
    newest().events.message(JSON.stringify({ kind: 'hello', protocol, session: feed.session, bench: feed.name, unit: 'bar', setup: wireSetup(feed) }));
  const wait = (ms: number) => {
    for (const end = now + ms; now < end; ) {
      now += 250;
      connection.tick();
    }
  };
  connection.tick();
  return { connection, sockets, seen, greet, wait, newest };
}

describe('the connection of the page', () => {
  it('asks for what is missing by number after each greeting', () => {
    const p = playground(41);
    p.greet();
    expect(p.newest().said).toContainEqual({ kind: 'follow', session: 'first', after: 41 });
    p.newest().events.gone();
    p.wait(500);
    p.greet();
    expect(p.sockets).toHaveLength(2);
    expect(p.newest().said).toContainEqual({ kind: 'follow', session: 'first', after: 41 });
  });

  it('FC-34: gives up a link that says it is open and stays silent for 10 s, and not before', () => {
    const p = playground();
    p.greet();
    p.wait(10_000);
    expect(p.sockets).toHaveLength(1);
    p.wait(500);
    expect(p.sockets).toHaveLength(2);
    expect(p.sockets[0]?.closed).toBe(true);
  });

  it('one that speaks is kept, and gets a heartbeat about once a second', () => {
    const p = playground();
    p.greet();
    for (let i = 0; i < 30; i++) {
      p.newest().events.message(JSON.stringify({ kind: 'runs', runs: [] }));
      p.wait(1000);
    }
    expect(p.sockets).toHaveLength(1);
    const beats = p.newest().said.filter((message) => JSON.stringify(message).includes('heartbeat')).length;
    expect(beats).toBeGreaterThanOrEqual(29);
    expect(beats).toBeLessThanOrEqual(32);
  });

  it('takes nothing more from a link that it has given up', () => {
    const p = playground();
    p.greet();
    const old = p.newest();
    p.wait(10_500);
    old.events.message(JSON.stringify({ kind: 'runs', runs: [] }));
    old.events.gone();
    p.wait(250);
    expect(p.seen.messages).toEqual(['hello']);
    expect(p.sockets).toHaveLength(2);
  });

  it('waits longer after each failure, and never longer than 5 s', () => {
    const p = playground();
    const pauses: number[] = [];
    for (let i = 0; i < 8; i++) {
      const before = p.sockets.length;
      p.newest().events.gone();
      let waited = 0;
      while (p.sockets.length === before) {
        p.wait(250);
        waited += 250;
      }
      pauses.push(waited);
    }
    expect(pauses).toEqual([250, 500, 1000, 2000, 5000, 5000, 5000, 5000]);
  });

  it('FC-32: a page that is looked at again does not wait for a silent link', () => {
    const p = playground();
    p.greet();
    p.wait(4000);
    p.connection.wake(3000);
    expect(p.sockets).toHaveLength(2);
    p.greet();
    p.connection.wake(3000);
    expect(p.sockets).toHaveLength(2);
  });

  it('stops at a server of another protocol version and says so', () => {
    const p = playground();
    p.greet(protocolVersion + 1);
    p.wait(60_000);
    expect([p.connection.outdated, p.sockets.length, p.seen.messages.length]).toEqual([true, 1, 0]);
  });

  it('is not thrown by garbage', () => {
    const p = playground();
    p.greet();
    for (const junk of ['', '{', 'null', '7', '{"kind":"toString"}', '{"kind":"view"}', new ArrayBuffer(3), new ArrayBuffer(100)]) p.newest().events.message(junk);
    const frame = encodeFrame({ first: 0, time: Float64Array.of(1), pressure: Float64Array.of(2), flags: Uint8Array.of(0) }, 0);
    p.newest().events.message(frame.buffer as ArrayBuffer);
    expect([p.seen.messages, p.seen.samples]).toEqual([['hello'], 1]);
  });
});

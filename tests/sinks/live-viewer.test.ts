import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { decodeFrame } from '../../src/sinks/live-frame.js';
import { LiveHub } from '../../src/sinks/live-hub.js';
import { closeCode, readServerMessage } from '../../src/sinks/live-protocol.js';
import { readPageMessage } from '../../src/sinks/live-requests.js';
import type { Transport } from '../../src/sinks/live-viewer.js';
import { runOf, ScriptedFeed } from '../server/scripted-feed.js';

/** A viewer whose network the test opens and shuts. */
class FakeTransport implements Transport {
  waiting = 0;
  flowing = true;
  mostWaiting = 0;
  closed: number | null = null;
  wasCut = false;
  readonly numbers: number[] = [];
  readonly texts: string[] = [];
  readonly #queue: (string | Uint8Array)[] = [];
  send(message: string | Uint8Array): void {
    this.#queue.push(message);
    this.waiting += message.length;
    this.mostWaiting = Math.max(this.mostWaiting, this.waiting);
    if (this.flowing) this.drain();
  }
  drain(): void {
    for (const message of this.#queue.splice(0)) {
      if (typeof message === 'string') this.texts.push(readServerMessage(message)?.kind ?? 'broken');
      else {
        const frame = decodeFrame(message);
        frame?.time.forEach((_, i) => this.numbers.push(frame.first + i));
      }
    }
    this.waiting = 0;
  }
  close(code: number): void { this.closed = code; }
  cut(): void { this.wasCut = true; }
}

const limit = 20_000;
function hubOf(feed: ScriptedFeed, history = 1e6) {
  const clock = { now: 0 };
  const hub = new LiveHub(feed, { limits: { waiting: limit, stall: 15_000, history }, now: () => clock.now });
  const round = (ms = 50) => {
    clock.now += ms;
    hub.round();
  };
  const watch = (after: number | null = null, session = 'first') => {
    const transport = new FakeTransport();
    const viewer = hub.join(transport);
    hub.receive(viewer, { kind: 'follow', session, after });
    return { transport, viewer };
  };
  return { hub, round, watch };
}
const give = (feed: ScriptedFeed, count: number) => {
  const begin = feed.time.length;
  feed.give(...Array.from({ length: count }, (_, i) => [(begin + i) / 100, 350] as const));
};
const range = (from: number, to: number) => Array.from({ length: Math.max(to - from, 0) }, (_, i) => from + i);

describe('a viewer', () => {
  it('gets greeting, state, what is there, then what comes, each sample once and in order', () => {
    const feed = new ScriptedFeed();
    give(feed, 10_000);
    const { round, watch } = hubOf(feed);
    const { transport } = watch();
    for (let i = 0; i < 5; i++) {
      give(feed, 7);
      round();
    }
    expect(transport.texts.slice(0, 2)).toEqual(['hello', 'snapshot']);
    expect(transport.numbers).toEqual(range(0, 10_035));
  });

  it('FC-32: gets after a reconnect exactly what it is missing', () => {
    const feed = new ScriptedFeed();
    give(feed, 6000);
    const { watch } = hubOf(feed);
    expect(watch(5949).transport.numbers).toEqual(range(5950, 6000));
    expect(watch(5999).transport.numbers).toEqual([]);
    expect(watch(100, 'another session').transport.numbers).toEqual(range(0, 6000));
    expect(watch(70_000).transport.numbers).toEqual(range(0, 6000));
  });

  it('gets no more history than the limit, and what is still kept', () => {
    const feed = new ScriptedFeed();
    give(feed, 6000);
    expect(hubOf(feed, 500).watch().transport.numbers).toEqual(range(5500, 6000));
    feed.forgotten = 5800;
    expect(hubOf(feed).watch(100).transport.numbers).toEqual(range(5800, 6000));
  });

  it('FC-31: that does not read holds no more than its limit, disturbs nobody, and is made good once it reads again', () => {
    const feed = new ScriptedFeed();
    const { round, watch } = hubOf(feed);
    const [good, bad] = [watch().transport, watch().transport];
    bad.flowing = false;
    for (let i = 0; i < 200; i++) {
      give(feed, 50);
      feed.show({ sentence: `step ${i}` });
      round();
    }
    expect(bad.mostWaiting).toBeLessThanOrEqual(limit);
    expect(bad.closed).toBeNull();
    expect(good.numbers).toEqual(range(0, 10_000));
    const before = bad.texts.length;
    bad.flowing = true;
    bad.drain();
    round();
    expect(bad.texts.slice(before)).toContain('snapshot');
    expect(bad.numbers).toEqual(range(0, 10_000));
  });

  it('FC-31: that takes nothing for too long is let go', () => {
    const feed = new ScriptedFeed();
    const { round, watch } = hubOf(feed);
    const bad = watch().transport;
    bad.flowing = false;
    for (let i = 0; i < 100 && bad.closed === null; i++) {
      give(feed, 1000);
      round(1000);
    }
    expect([bad.closed, bad.wasCut]).toEqual([closeCode.tooSlow, true]);
  });

  it('misses no sample and keeps to its limit, however its network comes and goes', () => {
    fc.assert(fc.property(fc.array(fc.record({ flowing: fc.boolean(), count: fc.nat(600) }), { minLength: 1, maxLength: 60 }), (steps) => {
      const feed = new ScriptedFeed();
      const { round, watch } = hubOf(feed);
      const { transport } = watch();
      for (const { flowing, count } of steps) {
        transport.flowing = flowing;
        if (flowing) transport.drain();
        if (count > 0) give(feed, count);
        feed.find({ kind: 'stroke', at: count });
        round();
      }
      transport.flowing = true;
      transport.drain();
      round();
      expect(transport.numbers).toEqual(range(0, feed.time.length));
      expect(transport.mostWaiting).toBeLessThanOrEqual(limit);
    }), { numRuns: 40 });
  });

  it('gets a heartbeat each second with its own clock in it, whether or not there is data', () => {
    const feed = new ScriptedFeed();
    const { hub, round, watch } = hubOf(feed);
    const { transport, viewer } = watch();
    hub.receive(viewer, { kind: 'heartbeat', at: 123 });
    for (let i = 0; i < 100; i++) round();
    expect(transport.texts.filter((kind) => kind === 'heartbeat')).toHaveLength(5);
    expect(viewer.echo(5100)).toEqual({ at: 123, held: 5100 });
  });

  it('hears of events, finished runs and changes at once, and of nothing before it has asked', () => {
    const feed = new ScriptedFeed();
    const { hub, watch } = hubOf(feed);
    const silent = new FakeTransport();
    hub.join(silent);
    const { transport } = watch();
    feed.find({ kind: 'spike', at: 1 });
    feed.finish(runOf({}));
    feed.change({ lid: 'open' });
    expect(transport.texts).toEqual(['hello', 'snapshot', 'event', 'runs', 'setup']);
    expect(silent.texts).toEqual(['hello']);
  });
});

describe('messages', () => {
  it('of a page are taken only when they are exactly right', () => {
    expect(readPageMessage('{"kind":"follow","session":"a","after":null}')).toEqual({ kind: 'follow', session: 'a', after: null });
    expect(readPageMessage('{"kind":"heartbeat","at":5.5}')).toEqual({ kind: 'heartbeat', at: 5.5 });
    for (const wrong of ['', '{', '[]', '{"kind":"stop"}', '{"kind":"follow","session":"a"}', '{"kind":"follow","session":"a","after":1.5}',
      '{"kind":"follow","session":"a","after":-7}', '{"kind":"heartbeat","at":"5"}', '{"kind":"heartbeat","at":1,"more":2}']) {
      expect(readPageMessage(wrong)).toBeNull();
    }
  });
  it('of the server that are not whole are not taken', () => {
    fc.assert(fc.property(fc.string(), (text) => { expect(readServerMessage(text)).toBeNull(); }));
    for (const wrong of ['{"kind":"view"}', '{"kind":"constructor"}', '{"kind":"heartbeat","newest":1}']) expect(readServerMessage(wrong)).toBeNull();
  });
});

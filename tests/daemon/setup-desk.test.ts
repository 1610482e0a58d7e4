import { existsSync, renameSync, writeFileSync } from 'node:fs';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { planText, ShopBench } from './shop-bench.js';

let shop: ShopBench;
const twice = (): void => {
  shop.desk.poll();
  shop.desk.poll();
};
const holds = (): (number | undefined)[] => shop.told.map(({ plan }) => plan?.value.holdTime);
const doe = { who: 'J. Doe' };

beforeEach(() => {
  shop = new ShopBench();
});
afterEach(() => shop.clear());

describe('files changed by hand', () => {
  beforeEach(() => shop.start());

  it('nothing is said while nothing changes', () => {
    for (let i = 0; i < 5; i++) shop.desk.poll();
    expect(shop.told).toEqual([]);
    expect(shop.notices()).toEqual([]);
  });

  it('a changed plan holds once it has been at rest, becomes a version, and is taken once', () => {
    shop.write('plan.yaml', 'plan: short proof\ntestPressure: 550 bar\n');
    shop.desk.poll();
    shop.write('plan.yaml', planText('short proof', '5 s'));
    shop.desk.poll();
    expect(shop.told).toEqual([]);
    twice();
    expect(holds()).toEqual([5]);
    expect(shop.desk.library.get('plan').file.versions().map(({ version, who }) => [version, who])).toEqual([[1, 'file on disk'], [2, 'file on disk']]);
    shop.hand.goodRun();
    expect(shop.judgedBy()).toEqual(['short proof 5 s']);
  });

  it('the plan before it stays in force while the changed one is wrong or away, and the page says why', () => {
    shop.write('plan.yaml', planText('short proof', '5'));
    twice();
    expect(shop.told).toEqual([]);
    expect(shop.notices()).toEqual([expect.stringMatching(/^the changed file is not used, the one before it stays in force: .*plan\.yaml: line 3, holdTime: '5' has no unit/)]);
    renameSync(shop.path('plan.yaml'), shop.path('away.yaml'));
    twice();
    expect(shop.notices()).toEqual([expect.stringContaining('the file was removed')]);
    expect(shop.desk.library.get('plan').newest.retired).toBe(false);
    shop.write('plan.yaml', planText('short proof', '6 s'));
    twice();
    expect(shop.notices()).toEqual([]);
    expect(holds()).toEqual([6]);
  });

  it('thresholds likewise', () => {
    shop.write('thresholds.yaml', 'thresholds: quick\nquietTime: 1 s\nsettleWindow: 2 s\nsettleTimeout: 10 s\nrunEnd: 3\n');
    twice();
    expect(shop.notices()).toEqual([expect.stringMatching(/thresholds\.yaml: line 5, runEnd: '3' has no unit/)]);
    shop.write('thresholds.yaml', 'thresholds: quick\nquietTime: 1 s\nsettleWindow: 2 s\nsettleTimeout: 10 s\nrunEnd: 3 s\n');
    twice();
    expect(shop.notices()).toEqual([]);
    expect(shop.told.map(({ thresholds }) => thresholds.value.runEnd)).toEqual([3]);
    expect(shop.desk.thresholds.versions()).toHaveLength(2);
  });
});

describe('the plan for the next run', () => {
  beforeEach(() => {
    shop.start();
    shop.desk.library.create(planText('longer proof', '6 s'), 'M. Roe', 'a customer asks for it');
  });

  it('is the one of the bench file until another is chosen; the choice outlives the program', () => {
    expect(shop.desk.plan()).toEqual({ inForce: 'plan', next: null, running: false });
    shop.hand.goodRun();
    expect(shop.desk.choose('longer-proof', doe)).toEqual({ inForce: 'longer-proof', next: null, running: false });
    shop.hand.goodRun();
    shop.restart();
    expect(shop.desk.plan().inForce).toBe('longer-proof');
    shop.hand.goodRun();
    expect(shop.judgedBy()).toEqual(['short proof 3 s', 'longer proof 6 s', 'longer proof 6 s']);
  });

  it('chosen in mid-run waits: the run keeps its own, the page says so, the next run is judged by the chosen one', () => {
    shop.hand.ramp(0, 0, 2);
    shop.hand.ramp(0, 560, 10);
    expect(shop.desk.choose('longer-proof', doe)).toEqual({ inForce: 'plan', next: 'longer-proof', running: true });
    expect(shop.notices()).toEqual(["'longer proof' is chosen for the next run; this run keeps 'short proof'"]);
    shop.desk.poll();
    expect(shop.hand.daemon.feed.setup().plan?.plan).toBe('short proof');
    shop.hand.ramp(560, 552, 2);
    shop.hand.ramp(552, 552, 10);
    shop.hand.ramp(552, 0, 1);
    shop.hand.ramp(0, 0, 8);
    expect(shop.desk.plan()).toEqual({ inForce: 'longer-proof', next: null, running: false });
    expect(shop.notices()).toEqual([]);
    shop.hand.goodRun();
    expect(shop.judgedBy()).toEqual(['short proof 3 s', 'longer proof 6 s']);
  });

  it('taken back in mid-run leaves nothing waiting', () => {
    shop.hand.ramp(0, 560, 10);
    shop.desk.choose('longer-proof', doe);
    expect(shop.desk.choose('plan', doe)).toEqual({ inForce: 'plan', next: null, running: true });
    expect(shop.notices()).toEqual([]);
  });

  it('saved anew while it is in force, the next run is judged by the new version and the record finds it', () => {
    shop.desk.choose('longer-proof', doe);
    shop.desk.library.get('longer-proof').file.save({ base: 1, text: planText('longer proof', '7 s'), who: 'M. Roe', why: 'a second more' });
    shop.savedByHand();
    shop.hand.goodRun();
    expect(shop.judgedBy()).toEqual(['longer proof 7 s']);
    const hash = shop.hand.stored((store) => store.getRun(1)?.plan ?? '');
    expect(shop.desk.library.versionWith(hash)).toMatchObject({ key: 'longer-proof', version: { version: 2, who: 'M. Roe', why: 'a second more' } });
  });

  it('the same job again brings back the plan of its run', () => {
    shop.desk.choose('longer-proof', doe);
    shop.hand.goodRun();
    shop.desk.choose('plan', doe);
    shop.desk.chooseAsIn(1, doe);
    expect(shop.desk.plan().inForce).toBe('longer-proof');
    shop.desk.choose('plan', doe);
    shop.desk.library.get('longer-proof').file.retire({ base: 1, who: 'M. Roe', why: 'no longer made' });
    shop.savedByHand();
    shop.desk.chooseAsIn(1, doe);
    expect(shop.desk.plan().inForce).toBe('plan');
    expect(shop.notices()).toEqual(["the plan 'longer proof' of run 1 is not in the library any more; see which plan is in force"]);
  });

  it('of the bench file holds again once the bench file names another', () => {
    shop.desk.choose('longer-proof', doe);
    shop.write('second.yaml', planText('second', '4 s'));
    shop.restart({ plan: 'second.yaml', thresholds: 'thresholds.yaml' });
    expect(shop.desk.plan().inForce).toBe('second');
  });

  it('what was used last comes first', () => {
    shop.hand.goodRun();
    shop.desk.choose('longer-proof', doe);
    shop.hand.goodRun();
    shop.desk.library.create(planText('a new one'), 'M. Roe', 'new hose');
    expect(shop.desk.library.find('', shop.desk.lastUsed()).map(({ key }) => key)).toEqual(['longer-proof', 'plan', 'a-new-one']);
  });

  it('retired or unknown cannot be chosen', () => {
    shop.desk.library.get('longer-proof').file.retire({ base: 1, who: 'M. Roe', why: 'no longer made' });
    shop.savedByHand();
    expect(() => shop.desk.choose('longer-proof', doe)).toThrow('is retired; bring it back before it is chosen');
    expect(() => shop.desk.choose('../plan', doe)).toThrow('there is no such plan');
    expect(shop.desk.plan().inForce).toBe('plan');
  });
});

describe('thresholds that the bench file does not name', () => {
  beforeEach(() => {
    shop.clear();
    shop = new ShopBench({ plan: 'plan.yaml' });
    shop.start();
  });

  it('are saved beside it, and hold from then on, over a restart, too', () => {
    expect(shop.desk.thresholdsInForce).toBe(false);
    shop.desk.checkThresholdsMayBeSaved();
    shop.desk.thresholds.save({ base: 0, text: 'thresholds: of the page\nspikeHeight: 2 %\n', who: 'M. Roe', why: 'false spikes' });
    shop.savedByHand();
    expect(shop.told.map(({ thresholds }) => thresholds.value.thresholds)).toEqual(['of the page']);
    expect(existsSync(shop.path('thresholds.yaml'))).toBe(true);
    shop.restart();
    expect(shop.hand.daemon.feed.setup().thresholds).toBe('of the page');
  });

  it('a file of that name that nobody named is neither used nor written over', () => {
    writeFileSync(shop.path('thresholds.yaml'), 'thresholds: an old idea\n');
    twice();
    expect(shop.told).toEqual([]);
    expect(() => shop.desk.checkThresholdsMayBeSaved()).toThrow("lies beside the bench file, which does not name it; add the line 'thresholds: thresholds.yaml'");
  });
});

import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { Connection } from '../../src/sinks/influx/connection.js';
import { lineOf, type Point } from '../../src/sinks/influx/line.js';
import { DatabaseServer } from '../../simulators/fleet/database-server.js';

const point = (over: Partial<Point>): Point => ({ measurement: 'm', tags: {}, fields: { v: 1 }, stamp: 1_556_813_561_098_000, ...over });

describe('lines', () => {
  // InfluxData, 'Line protocol reference' (InfluxDB v2 documentation), examples of the elements and of special characters.
  it.each<[string, Point]>([
    ['myMeasurement,tag1=value1,tag2=value2 fieldKey="fieldValue" 1556813561098000', point({ measurement: 'myMeasurement', tags: { tag1: 'value1', tag2: 'value2' }, fields: { fieldKey: 'fieldValue' } })],
    ['my\\ Measurement fieldKey="string value" 1', point({ measurement: 'my Measurement', fields: { fieldKey: 'string value' }, stamp: 1 })],
    ['myMeasurement fieldKey="\\"string\\" within a string" 1', point({ measurement: 'myMeasurement', fields: { fieldKey: '"string" within a string' }, stamp: 1 })],
    ['myMeasurement,tag\\ Key1=tag\\ Value1,tag\\ Key2=tag\\ Value2 fieldKey=100 1', point({ measurement: 'myMeasurement', tags: { 'tag Key1': 'tag Value1', 'tag Key2': 'tag Value2' }, fields: { fieldKey: 100 }, stamp: 1 })],
    ['cpu\\,01,host=serverA,region=us-west value=1 1', point({ measurement: 'cpu,01', tags: { host: 'serverA', region: 'us-west' }, fields: { value: 1 }, stamp: 1 })],
    ['cpu,host=server\\ 01,region=us\\,west value_int=1i 1', point({ measurement: 'cpu', tags: { host: 'server 01', region: 'us,west' }, fields: { value_int: 1n }, stamp: 1 })],
    ['m v=-1.234456e+78 1', point({ fields: { v: -1.234456e78 }, stamp: 1 })],
    ['m v=9223372036854775807i,on=true,off=false 1', point({ fields: { v: 9223372036854775807n, on: true, off: false }, stamp: 1 })],
  ])('%s', (line, written) => expect(lineOf(written, 'influxdb')).toBe(line));

  it('never hold NaN, infinity, nothing, or an empty tag', () => {
    const odd = point({ tags: { a: '', b: ' ', c: undefined, d: 'x' }, fields: { a: NaN, b: Infinity, c: -Infinity, d: null, e: undefined, f: 2 } });
    expect(lineOf(odd, 'influxdb')).toBe('m,d=x f=2 1556813561098000');
    expect(lineOf(point({ fields: { a: NaN } }), 'influxdb')).toBeNull();
  });
});

/** Names that people give things, and what the database shows of them where that differs. */
const names: readonly (readonly [name: string, shown?: string])[] = [
  ['bench 1'], ['north,west'], ['a=b'], ['"quoted"'], ["o'clock"], ["it\\'s"], ['C:\\bench'], ['a\\,b'], ['a\\ b'], ['a\\=b'], ['\\\\server\\share'], ['Prüfstand Größe ½″'], ['試験台 №7'], ['🚰 water'],
  [' blank before'], ['#1'], ['# not a remark'], ['_hidden'], ['a\tb'], ['100%'], ['$bench'], ['x'.repeat(60)],
  ['two\nlines', 'two\\nlines'], ['two\r\nother lines', 'two\\nother lines'],
];

describe.each(['influxdb', 'victoria-metrics'] as const)('names in a real %s', (engine) => {
  let server: DatabaseServer;
  beforeAll(async () => {
    server = await DatabaseServer.begin(engine);
  });
  afterAll(() => server.end());

  it('come back as they were given', async () => {
    // InfluxDB cannot hold a backslash at the end of a tag: the wide backslash stands there.
    const given = [...names, engine === 'influxdb' ? (['ends in \\', 'ends in \uff3c'] as const) : (['ends in \\'] as const)];
    const connection = new Connection({ url: server.url, database: 'rig', login: () => null });
    expect(await connection.prepare()).toEqual({ engine });
    const stamp = engine === 'influxdb' ? 1_770_105_600_000_000 : 1_770_105_600_000;
    const lines = given.map(([name], i) => lineOf({ measurement: 'names', tags: { bench: name }, fields: { v: i, text: name, n: BigInt(i) }, stamp: stamp + i }, engine) ?? '');
    expect(await connection.write(lines, engine)).toEqual({ kind: 'delivered' });
    const wanted = given.map(([name, shown = name], i) => ({ bench: shown, v: i, n: i }));
    if (engine === 'influxdb') {
      const rows = await server.rows('rig', 'SELECT bench, v, n, text FROM names');
      expect(rows.map(({ bench, v, n }) => ({ bench, v, n }))).toEqual(wanted);
      // A text may end in a backslash.
      expect(rows.map(({ text }) => text)).toEqual(given.map(([name, shown]) => (name.endsWith('\\') ? name : (shown ?? name))));
      expect(rows.map(({ time }) => time)).toEqual(given.map((_, i) => stamp + i));
    } else {
      const by = async (field: string) => new Map((await server.exported(`names_${field}{db="rig"}`)).map(({ metric, values }) => [metric['bench'], values[0]]));
      const [v, n, text] = [await by('v'), await by('n'), await by('text')];
      expect(wanted.map(({ bench }) => ({ bench, v: v.get(bench), n: n.get(bench) }))).toEqual(wanted);
      // It would make a 0 of a text, so none is sent.
      expect([...text]).toEqual([]);
    }
  });
});

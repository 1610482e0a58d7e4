import { zipSync, type Zippable } from 'fflate';
import { recordJson } from '../records/export-record.js';
import type { StoreReader } from '../records/store-reader.js';
import { certificateContent } from './certificate-content.js';
import { certificatePdf } from './certificate-pdf.js';
import { fileName } from './file-name.js';
import { localTime } from './local-time.js';
import { orderPdf } from './order-pdf.js';
import type { OrderContent } from './order-runs.js';
import { recordCsv } from './record-csv.js';

/** Samples that go into one archive: more would need more memory than a small computer has. */
const mostSamples = 2_000_000;

/**
 * An order as an archive: the document of the order, one for each assembly by its newest run, and for each run its sealed
 * record, which can be checked without the store.
 */
export async function orderZip(store: StoreReader, content: OrderContent): Promise<Uint8Array> {
  const { order, shop, runs, assemblies } = content;
  const files: Zippable = {};
  const put = (name: string, bytes: Uint8Array, wall: number, level: 0 | 6) => {
    files[name] = [bytes, { mtime: zipTime(wall, shop.zone), level }];
  };
  const text = new TextEncoder();
  const newest = Math.max(...runs.map(({ wall }) => wall));
  put(`order-${fileName(order)}.pdf`, await orderPdf(content), newest, 0);
  for (const { serial, run, attempt } of assemblies) {
    const made = certificateContent(store, run, shop, attempt === null ? {} : { assembly: serial });
    put(`${made.kind}-${fileName(serial)}-run-${run}.pdf`, await certificatePdf(made), made.wall, 0);
  }
  let samples = 0;
  for (const { run, wall } of runs) {
    put(`run-${run}.csv`, text.encode(recordCsv(store, run)), wall, 6);
    samples += store.getRun(run)?.outcome?.signal.samples ?? 0;
    if (samples <= mostSamples) put(`run-${run}.json`, text.encode([...recordJson(store, run)].join('')), wall, 6);
    else put(`run-${run}.txt`, text.encode(`The record of run ${run} is too long for this archive; write it out with: dwellkeeper export STORE --run ${run}\n`), wall, 6);
  }
  return zipSync(files);
}

/** The calendar of the shop as the archive stores it: without a zone, and from 1980 on. */
function zipTime(wall: number, zone: string): Date {
  const [day = '', clock = ''] = localTime(wall, zone).split(' ');
  const [year = 1980, month = 1, date = 1] = day.split('-').map(Number);
  const [hours = 0, minutes = 0, seconds = 0] = clock.split(':').map(Number);
  return new Date(Math.min(Math.max(year, 1980), 2099), month - 1, date, hours, minutes, seconds);
}

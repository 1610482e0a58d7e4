import { inputError } from '../core/problems.js';
import { piecesCsv } from '../records/export-csv.js';
import { recordJson } from '../records/export-record.js';
import { extentOf } from '../records/run-record.js';
import { runStory } from '../records/run-story.js';
import type { StoreReader } from '../records/store-reader.js';
import { certificateContent } from './certificate-content.js';
import { certificatePdf } from './certificate-pdf.js';
import type { DocumentRequest, MadeDocument } from './document-request.js';
import { fileName } from './file-name.js';
import { labelPdf, labelText } from './label.js';
import { encodeIn, mediaTypeIn, type LabelCharset } from './label-charset.js';
import { orderContent } from './order-runs.js';
import { orderPdf } from './order-pdf.js';
import { orderZip } from './order-zip.js';
import { recordCsv } from './record-csv.js';
import type { Shop } from './shop.js';

/** Samples of a run that are handed out in one piece; longer ones are written by the command `export`. */
const mostSamples = 2_000_000;

const encode = (text: string): Uint8Array => new TextEncoder().encode(text);

/**
 * Makes what was asked for. Reads only.
 * @throws InputError for a run or order that is not there, or a run that is still going on
 */
export async function makeDocument(store: StoreReader, request: DocumentRequest, shop: Shop): Promise<MadeDocument> {
  switch (request.kind) {
    case 'certificate': {
      const content = certificateContent(store, request.run, { ...shop, paper: request.paper ?? shop.paper }, choice(request.assembly));
      return { name: `${content.kind}-${content.number}${suffix(content.assembly)}.pdf`, type: 'application/pdf', bytes: await certificatePdf(content) };
    }
    case 'label': {
      const content = certificateContent(store, request.run, shop, choice(request.assembly));
      const name = `label-${content.number}${suffix(content.assembly)}`;
      return request.form === 'pdf'
        ? { name: `${name}.pdf`, type: 'application/pdf', bytes: await labelPdf(content, request.width) }
        : labelTextDocument(name, labelText(content, request.width, request.charset ?? shop.labelCharset), request.charset ?? shop.labelCharset);
    }
    case 'record': {
      if (request.form === 'csv') return { name: `run-${request.run}-findings.csv`, type: 'text/csv; charset=utf-8', bytes: encode(recordCsv(store, request.run)) };
      checkLength(store, request.run);
      return { name: `run-${request.run}.json`, type: 'application/json', bytes: encode([...recordJson(store, request.run)].join('')) };
    }
    case 'trace': {
      const run = checkLength(store, request.run);
      if (run.received === null) throw inputError(`run ${request.run}`, '', 'is still going on');
      // With the idle time that was read before it, at negative times: whoever judges it again needs it.
      const { from, to } = extentOf(run);
      const text = [...piecesCsv(store.traces.inTurn(run.channel, from, to, run.received), { zero: run.from })].join('');
      return { name: `run-${request.run}.csv`, type: 'text/csv; charset=utf-8', bytes: encode(text) };
    }
    case 'order': {
      const content = orderContent(store, request.order, { ...shop, paper: request.paper ?? shop.paper });
      const name = `order-${fileName(content.order)}`;
      return request.form === 'pdf'
        ? { name: `${name}.pdf`, type: 'application/pdf', bytes: await orderPdf(content) }
        : { name: `${name}.zip`, type: 'application/zip', bytes: await orderZip(store, content) };
    }
  }
}

const labelTextDocument = (name: string, text: string, charset: LabelCharset = 'ascii'): MadeDocument => ({ name: `${name}.txt`, type: mediaTypeIn(charset), bytes: encodeIn(text, charset) });

const choice = (assembly: string | undefined) => (assembly === undefined ? {} : { assembly });
const suffix = (assembly: string | null): string => (assembly === null ? '' : `-${fileName(assembly)}`);

function checkLength(store: StoreReader, number: number) {
  const { run } = runStory(store, number);
  const samples = run.outcome?.signal.samples ?? 0;
  if (samples > mostSamples) throw inputError(`run ${number}`, '', `has ${samples} samples, too many for one answer; write it out with: dwellkeeper export STORE --run ${number}`);
  return run;
}

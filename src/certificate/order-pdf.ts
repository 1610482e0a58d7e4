import { drawCertificate, footOf, sheetFor } from './certificate-pdf.js';
import type { OrderContent } from './order-runs.js';
import { resultLook } from './result-look.js';
import { Sheet } from './sheet.js';

/** One document for an order: what became of each assembly, then the document of every run. */
export async function orderPdf(content: OrderContent): Promise<Uint8Array> {
  const { order, runs, assemblies, shop } = content;
  const newest = runs.reduce((latest, { wall }) => Math.max(latest, wall), 0);
  const sheet = new Sheet({ ...sheetFor({ shop, wall: newest }), title: `Order ${order}: pressure tests`, subject: `${assemblies.length} assemblies in ${runs.length} runs` });
  sheet.page();
  if (shop.name !== null) sheet.say(shop.name, { face: 'bold', size: 11 });
  if (shop.address.length > 0) sheet.say(shop.address.join(', '), { size: 7.5, ink: 'faint' }, 8);
  sheet.say(`Pressure tests of order ${order}`, { face: 'bold', size: 15 });
  sheet.say(summary(content), { size: 9 }, 4);
  sheet.heading('Assemblies, each by its newest run');
  sheet.table(
    [{ head: 'Serial number', share: 2.2 }, { head: 'Result', share: 1.9 }, { head: 'Document', share: 2.3 }, { head: 'Seen, and why', share: 4 }, { head: 'Attempts', share: 3 }],
    assemblies.map((line) => [
      { text: line.serial, face: 'bold' as const }, { text: resultLook[line.result].word, face: 'bold' as const, ink: resultLook[line.result].ink },
      kindOf(content, line.number), line.remark, line.attempt ?? '',
    ]),
  );
  const front = sheet.pages;
  const ends = runs.map((run) => {
    drawCertificate(sheet, run);
    return { run, page: sheet.pages };
  });
  // A page that was taken out of the order must still say what it belongs to, and that it is no certificate.
  const footAt = (page: number) => {
    const end = page <= front ? undefined : ends.find((other) => page <= other.page);
    return end === undefined ? '' : ` · ${footOf(end.run)}`;
  };
  return sheet.end((page, pages) => [`Order ${order}${footAt(page)}`, `page ${page} of ${pages}`]);
}

function summary({ assemblies, runs }: OrderContent): string {
  const passed = assemblies.filter(({ result }) => result === 'pass').length;
  const open = runs.filter(({ kind }) => kind === 'provisional').length;
  return [
    `${passed} of ${assemblies.length} assemblies passed, in ${runs.length} ${runs.length === 1 ? 'run' : 'runs'}.`,
    ...(open === 0 ? [] : [`${open} of the documents ${open === 1 ? 'is' : 'are'} provisional: something is missing in ${open === 1 ? 'it' : 'them'}.`]),
  ].join(' ');
}

const kindWords = { certificate: '', provisional: ' (provisional)', report: ' (report)' } as const;

const kindOf = ({ runs }: OrderContent, number: string): string => `${number}${kindWords[runs.find((run) => run.number === number)?.kind ?? 'report']}`;

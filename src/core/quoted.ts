/** Signs of a value that a sentence shows. */
const most = 60;

/** Something that a person wrote, for a sentence: between quotes, on one line, and no longer than can be read at a glance. */
export function quoted(text: string): string {
  const line = text.replace(/\s*[\r\n]+\s*/g, ' ');
  return `'${cut(line)}'`;
}

/** The beginning of a text where it is long. */
export const cut = (text: string): string => (text.length > most ? `${text.slice(0, most)}...` : text);

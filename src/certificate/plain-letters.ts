/** Typography that ASCII says as well: nothing is lost by it. */
const typography: Readonly<Record<string, string>> = {
  '≤': '<=', '≥': '>=', '±': '+/-', '–': '-', '—': '-', '‑': '-', '…': '...', '·': '-', '’': "'", '‘': "'", '“': '"', '”': '"', '«': '"', '»': '"', '„': '"', '‚': "'",
  '°': 'deg ', 'µ': 'u', '×': 'x', '÷': '/', '½': '1/2', '¼': '1/4', '¾': '3/4', '²': '2', '³': '3', '\u00a0': ' ', '\u202f': ' ', '\u2009': ' ', '→': '->', '€': 'EUR', '№': 'No.',
};

/** Lower-case letters that have no plain letter under their mark. Greek and Cyrillic as common practice writes names in Latin letters. */
const letters: Readonly<Record<string, string>> = {
  ß: 'ss', æ: 'ae', ø: 'o', ł: 'l', đ: 'd', ð: 'd', þ: 'th', ı: 'i', œ: 'oe', ħ: 'h', ŧ: 't', ŋ: 'n', ĸ: 'k', α: 'a', β: 'v', γ: 'g', δ: 'd',
  ε: 'e', ζ: 'z', η: 'i', θ: 'th', ι: 'i', κ: 'k', λ: 'l', μ: 'm', ν: 'n', ξ: 'x', ο: 'o', π: 'p', ρ: 'r', σ: 's', ς: 's', τ: 't', υ: 'y', φ:
  'f', χ: 'ch', ψ: 'ps', ω: 'o', а: 'a', б: 'b', в: 'v', г: 'g', д: 'd', е: 'e', ж: 'zh', з: 'z', и: 'i', й: 'j', к: 'k', л: 'l', м: 'm', н:
  'n', о: 'o', п: 'p', р: 'r', с: 's', т: 't', у: 'u', ф: 'f', х: 'h', ц: 'c', ч: 'ch', ш: 'sh', щ: 'shch', ъ: "'", ы: 'y', ь: "'", э: 'e', ю:
  'yu', я: 'ya', ђ: 'dj', ѓ: 'gj', є: 'ye', і: 'i', ї: 'yi', ј: 'j', љ: 'lj', њ: 'nj', ћ: 'c', ќ: 'kj', ў: 'u', џ: 'dz', ґ: 'g', ё: 'yo',
};

/**
 * What may stand for a sign that a printer lacks; `null` where nothing does. `lost` tells that the reader cannot know what
 * was there.
 */
export function plainFor(sign: string): { readonly text: string; readonly lost: boolean } | null {
  const typed = typography[sign];
  if (typed !== undefined) return { text: typed, lost: false };
  const lower = sign.toLowerCase();
  const written = letters[lower];
  if (written !== undefined) return { text: lower === sign ? written : written.charAt(0).toUpperCase() + written.slice(1), lost: true };
  const bare = sign.normalize('NFKD').replaceAll(/\p{M}/gu, '');
  if (bare === sign || bare === '') return null;
  const parts = [...bare].map((part) => (/^[\x20-\x7e]$/.test(part) ? part : (plainFor(part)?.text ?? null)));
  return parts.includes(null) ? null : { text: parts.join(''), lost: true };
}

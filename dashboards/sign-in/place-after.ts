/** The page to go to after signing in: the one that was wanted, of this server only. @param search query of the sign-in page */
export function placeAfter(search: string, origin: string): string {
  const wanted = new URLSearchParams(search).get('to') ?? '';
  const usual = '/live/';
  if (!wanted.startsWith('/') || !URL.canParse(wanted, origin)) return usual;
  const { origin: there, pathname, search: query } = new URL(wanted, origin);
  return there === origin && !pathname.startsWith('/sign-in') && !pathname.startsWith('//') ? pathname + query : usual;
}

import { make } from './page-parts.js';

/** Who is at this screen. */
export interface Me {
  /** False: at this bench nobody needs to sign in. */
  readonly signIn: boolean;
  readonly person: { readonly name: string | null; readonly role: string } | null;
}

/** `null` while the server does not answer. */
export async function whoAmI(): Promise<Me | null> {
  try {
    const answer = await fetch('/api/me');
    return answer.ok ? ((await answer.json()) as Me) : null;
  } catch {
    return null;
  }
}

/** Opens the sign-in page; it comes back here. */
export function toSignIn(): void {
  location.assign(`../sign-in/?to=${encodeURIComponent(location.pathname + location.search)}`);
}

/** Goes to the sign-in page where somebody was signed out meanwhile. */
export async function signInAgainWhereNeeded(): Promise<void> {
  const me = await whoAmI();
  if (me?.signIn === true && me.person === null) toSignIn();
}

/** Puts the name of whoever is signed in, and a way out, at the end of `list`. */
export async function offerSignOut(list: HTMLElement): Promise<void> {
  const me = await whoAmI();
  const person = me?.signIn === true ? me.person : null;
  if (person?.name == null) return;
  // What a viewer cannot do is not offered.
  document.body.dataset['role'] = person.role;
  const out = make('button', '', 'Sign out');
  out.setAttribute('type', 'button');
  out.addEventListener('click', () => void fetch('/api/sign-out', { method: 'POST' }).then(toSignIn, toSignIn));
  list.querySelector('.signed-in')?.remove();
  const who = make('span', '', `${person.name}, ${person.role}`);
  who.title = who.textContent;
  list.append(make('span', 'signed-in', who, out));
}

import { part, say } from '../shared/page-parts.js';
import { whoAmI } from '../shared/signed-in.js';
import { placeAfter } from './place-after.js';

const name = part('name') as HTMLInputElement;
const secret = part('secret') as HTMLInputElement;
const enter = part('enter');

/** Goes on to the page that was wanted. */
const goOn = (): void => location.replace(placeAfter(location.search, location.origin));

async function signIn(): Promise<void> {
  if (enter.ariaDisabled === 'true') return;
  enter.ariaDisabled = 'true';
  say(part('problem'), '');
  try {
    const answer = await fetch('/api/sign-in', {
      method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ name: name.value, secret: secret.value }),
    });
    if (answer.ok) return goOn();
    const said = (await answer.json().catch(() => null)) as { error?: unknown } | null;
    refused(typeof said?.error === 'string' ? said.error : `the bench answered ${answer.status}`);
  } catch {
    refused('the bench cannot be reached; try again');
  }
}

function refused(sentence: string): void {
  enter.ariaDisabled = 'false';
  say(part('problem'), `${sentence.charAt(0).toUpperCase()}${sentence.slice(1)}.`);
  secret.value = '';
  secret.focus();
}

part('form').addEventListener('submit', (event) => {
  event.preventDefault();
  void signIn();
});
part('in-clear').hidden = location.protocol === 'https:' || ['localhost', '127.0.0.1', '[::1]'].includes(location.hostname);
const me = await whoAmI();
if (me !== null && (me.signIn === false || me.person !== null)) goOn();

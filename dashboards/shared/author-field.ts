const remembered = 'dwellkeeper-operator';

/** The field where people say who they are; whoever is signed in is named already. */
export class AuthorField {
  constructor(private readonly input: HTMLInputElement) {
    input.value = localStorage.getItem(remembered) ?? '';
    input.addEventListener('change', () => localStorage.setItem(remembered, input.value.trim()));
    void fetch('/api/me')
      .then((answer) => (answer.ok ? (answer.json() as Promise<{ person: { name: string | null } | null }>) : null))
      .then((me) => {
        const name = me?.person?.name ?? null;
        if (name === null) return;
        input.value = name;
        input.readOnly = true;
      })
      .catch(() => undefined);
  }

  /** @throws Error where nobody is named */
  name(): string {
    const name = this.input.value.trim();
    if (name !== '') return name;
    this.input.focus();
    throw new Error('Say who you are first: the field is at the top.');
  }
}

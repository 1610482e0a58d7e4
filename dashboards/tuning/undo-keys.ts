const noText: ReadonlySet<string> = new Set(['range', 'checkbox', 'radio']);

/** Undo and redo by the keys that people know, but where text is typed: a field has an undo of its own. */
export function followUndoKeys({ undo, redo }: { readonly undo: () => void; readonly redo: () => void }): void {
  document.addEventListener('keydown', (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
    const key = event.key.toLowerCase();
    const typing = event.target instanceof HTMLInputElement && !noText.has(event.target.type);
    if (typing || (key !== 'z' && key !== 'y')) return;
    event.preventDefault();
    if (key === 'y' || event.shiftKey) redo();
    else undo();
  });
}

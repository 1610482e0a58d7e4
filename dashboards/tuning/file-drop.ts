import { part } from '../shared/page-parts.js';

/** Files that are dropped anywhere on the page, or chosen. */
export function followFiles(take: (files: readonly File[]) => Promise<void>): void {
  const drop = part('drop') as HTMLDetailsElement;
  document.addEventListener('dragover', (event) => {
    event.preventDefault();
    drop.open = true;
    drop.classList.add('over');
  });
  document.addEventListener('dragleave', () => drop.classList.remove('over'));
  document.addEventListener('drop', (event) => {
    event.preventDefault();
    drop.classList.remove('over');
    void take([...(event.dataTransfer?.files ?? [])]);
  });
  const files = part('files') as HTMLInputElement;
  // Emptied, so that the same file can be chosen again.
  files.addEventListener('change', () => void take([...(files.files ?? [])]).then(() => (files.value = '')));
}

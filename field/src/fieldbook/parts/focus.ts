/*
 * When what has the focus goes away with its answer, the focus stays where it was on the screen: at the nearest part
 * that is still there. Otherwise a keyboard begins anew at the top of the page after every touch.
 */

const FOCUSABLE = 'a[href], button:not(:disabled), input, select, textarea, summary, [tabindex]';

export function keepFocus(root: HTMLElement): () => void {
  let trail: HTMLElement[] = [];

  function remember(event: FocusEvent): void {
    trail = [];
    for (let one = event.target as HTMLElement | null; one && one !== root; one = one.parentElement) trail.push(one);
  }

  function look(): void {
    const [last] = trail;
    if (!last || last.isConnected || document.activeElement !== document.body) return;
    const left = trail.find((one) => one.isConnected) ?? root;
    trail = [];
    if (!left.matches(FOCUSABLE)) left.tabIndex = -1;
    left.focus({ preventScroll: true });
  }

  const watcher = new MutationObserver(look);
  watcher.observe(root, { childList: true, subtree: true });
  root.addEventListener('focusin', remember);
  return () => {
    watcher.disconnect();
    root.removeEventListener('focusin', remember);
  };
}

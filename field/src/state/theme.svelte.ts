/* Light or dark: as the system says, unless chosen here. */

export type Choice = 'system' | 'light' | 'dark';

const KEY = 'broodsweep.theme';
const query = matchMedia('(prefers-color-scheme: dark)');

function stored(): Choice {
  try {
    const kept = localStorage.getItem(KEY);
    return kept === 'light' || kept === 'dark' ? kept : 'system';
  } catch {
    return 'system'; // storage may be switched off
  }
}

let choice = $state<Choice>(stored());
let system = $state(query.matches);
let isForPaper = $state(false);
query.addEventListener('change', () => {
  system = query.matches;
  apply();
});

export const theme = {
  get choice(): Choice {
    return choice;
  },
  get isDark(): boolean {
    if (isForPaper) return false;
    return choice === 'system' ? system : choice === 'dark';
  },
};

function apply(): void {
  document.documentElement.dataset['theme'] = theme.isDark ? 'dark' : 'light';
}

/* Paper is light: what is drawn for it, the map above all, is drawn so. */
export function forPaper(isOn: boolean): void {
  isForPaper = isOn;
  apply();
}

export function choose(next: Choice): void {
  choice = next;
  try {
    if (next === 'system') localStorage.removeItem(KEY);
    else localStorage.setItem(KEY, next);
  } catch {
    // the choice then holds until the page is closed
  }
  apply();
}

apply();

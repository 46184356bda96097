/* Every visible word comes from the catalogue that the server sends; the name of a value says how it is written. */

export type Params = Record<string, unknown>;

interface Catalogue {
  locale: string;
  forms: Record<string, string[]>;
}

const KILOMETRE_M = 1000;
const ISO_DAY = /^\d{4}-\d{2}-\d{2}$/;

let catalogue: Catalogue = { locale: 'en', forms: {} };

/* The pseudo-locale borrows the numbers and dates of English. */
function intlLocale(locale: string): string {
  return locale === 'en' || locale === 'en-XA' ? 'en-GB' : locale;
}

let tag = intlLocale('en');
let plurals = new Intl.PluralRules(tag);
const made = new Map<string, Intl.NumberFormat>();

export function useCatalogue(locale: string, forms: Record<string, string[]>): void {
  catalogue = { locale, forms };
  tag = intlLocale(locale);
  plurals = new Intl.PluralRules(tag);
  made.clear();
  document.documentElement.lang = locale === 'en-XA' ? 'en' : locale;
}

export function currentLocale(): string {
  return catalogue.locale;
}

export function hasKey(key: string): boolean {
  return key in catalogue.forms;
}

/* Put a key into words; an unknown key shows itself, so that the tests find it. */
export function t(key: string, params: Params = {}): string {
  const forms = catalogue.forms[key];
  if (!forms) return `⟦${key}⟧`;
  let form = forms[0] ?? '';
  const count = params['count'];
  if (forms.length > 1 && typeof count === 'number') {
    form = forms[Math.min(pluralIndex(count), forms.length - 1)] ?? form;
  }
  return form.replace(/\{(\w+)\}/g, (whole, name: string) =>
    name in params ? write(name, params[name]) : whole,
  );
}

function pluralIndex(count: number): number {
  const order = ['zero', 'one', 'two', 'few', 'many', 'other'];
  const used = plurals.resolvedOptions().pluralCategories.toSorted((a, b) => order.indexOf(a) - order.indexOf(b));
  return used.indexOf(plurals.select(count));
}

/* Words of other rooms stand in the middle of sentences there; at the beginning of a line they get a capital. */
export function capital(words: string): string {
  const [first = '', ...rest] = words;
  return first.toLocaleUpperCase(tag) + rest.join('');
}

export function write(name: string, value: unknown): string {
  if (value === null || value === undefined) return t('web.unknown');
  if (Array.isArray(value)) return value.map((item) => write(name, item)).join(', ');
  if (name.endsWith('_on') && typeof value === 'string' && ISO_DAY.test(value)) return day(value);
  if (name.endsWith('_at') && typeof value === 'string') return instant(value);
  if (typeof value !== 'number') return String(value);
  if (name.endsWith('_m')) return distance(value);
  if (name.endsWith('_probability')) return decimal(value, 2, 2);
  if (name.endsWith('_share')) return `${decimal(value * 100, 0, 0)} %`;
  return decimal(value, 0, 3);
}

export function decimal(value: number, least = 0, most = 3): string {
  const key = `${least}-${most}`;
  let format = made.get(key);
  if (!format) {
    format = new Intl.NumberFormat(tag, { minimumFractionDigits: least, maximumFractionDigits: most });
    made.set(key, format);
  }
  return format.format(value);
}

/* A round number of kilometres is a rule's, not measured, and has no decimals: 3 km. */
export function distance(valueM: number): string {
  if (valueM < KILOMETRE_M) return `${decimal(Math.round(valueM), 0, 0)} m`;
  const places = valueM % KILOMETRE_M === 0 ? 0 : 1;
  return `${decimal(valueM / KILOMETRE_M, places, places)} km`;
}

function parts(value: Date, zone: string | undefined): { date: string; time: string } {
  const base = zone ? { timeZone: zone } : {};
  const date = new Intl.DateTimeFormat(tag, { ...base, day: 'numeric', month: 'short', year: 'numeric' });
  const time = new Intl.DateTimeFormat(tag, { ...base, hour: '2-digit', minute: '2-digit', hourCycle: 'h23' });
  return { date: date.format(value), time: time.format(value) };
}

/* A calendar day has no time zone: it is written in UTC, in which it was read. */
export function day(iso: string): string {
  return parts(new Date(`${iso}T00:00:00Z`), 'UTC').date;
}

export function weekday(iso: string): string {
  return new Intl.DateTimeFormat(tag, { weekday: 'long', timeZone: 'UTC' }).format(new Date(`${iso}T00:00:00Z`));
}

/* An instant is written in the zone of the machine that shows it. */
export function instant(iso: string): string {
  const written = parts(new Date(iso), undefined);
  return `${written.date} ${written.time}`;
}

/* Whole days from one calendar day to another. */
export function daysBetween(from: string, to: string): number {
  const length = 86_400_000;
  return Math.round((Date.parse(`${to}T00:00:00Z`) - Date.parse(`${from}T00:00:00Z`)) / length);
}

export function compareNames(a: string, b: string): number {
  return a.localeCompare(b, tag, { numeric: true });
}

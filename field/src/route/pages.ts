/* Which page an address opens, and with what. */

import type { Component } from 'svelte';
import ApiarySheet from '../pages/ApiarySheet.svelte';
import Duplicates from '../pages/Duplicates.svelte';
import EnterApiary from '../pages/EnterApiary.svelte';
import FieldVisit from '../pages/FieldVisit.svelte';
import Fieldwork from '../pages/Fieldwork.svelte';
import Ground from '../pages/Ground.svelte';
import Hidden from '../pages/Hidden.svelte';
import Journal from '../pages/Journal.svelte';
import Load from '../pages/Load.svelte';
import NoSuchPage from '../pages/NoSuchPage.svelte';
import OpenOutbreak from '../pages/OpenOutbreak.svelte';
import OutbreakSheet from '../pages/OutbreakSheet.svelte';
import Outbreaks from '../pages/Outbreaks.svelte';
import PaperEntry from '../pages/PaperEntry.svelte';
import People from '../pages/People.svelte';
import Practice from '../pages/Practice.svelte';
import Rehearse from '../pages/Rehearse.svelte';
import Rounds from '../pages/Rounds.svelte';
import Season from '../pages/Season.svelte';
import Rules from '../pages/Rules.svelte';
import Settings from '../pages/Settings.svelte';
import Today from '../pages/Today.svelte';
import Weigh from '../pages/Weigh.svelte';

interface Place {
  // eslint-disable-next-line @typescript-eslint/no-explicit-any
  page: Component<any>;
  props: Record<string, string>;
}

export function pageFor(path: readonly string[]): Place {
  const [section, second, third] = path;
  if (section === 'today' && !second) return { page: Today, props: {} };
  if (section === 'ground') {
    if (!second) return { page: Ground, props: {} };
    if (second === 'enter') return { page: EnterApiary, props: {} };
    if (second === 'load') return { page: Load, props: {} };
    if (second === 'duplicates') return { page: Duplicates, props: {} };
    if (second === 'apiary' && third) return { page: ApiarySheet, props: { apiary: third } };
  }
  if (section === 'outbreaks') {
    if (!second) return { page: Outbreaks, props: {} };
    if (second === 'open' && !third) return { page: OpenOutbreak, props: {} };
    if (third === 'hidden') return { page: Hidden, props: { outbreak: second } };
    if (third === 'rehearse') return { page: Rehearse, props: { outbreak: second } };
    if (!third) return { page: OutbreakSheet, props: { outbreak: second } };
  }
  if (section === 'rounds' && !second) return { page: Rounds, props: {} };
  if (section === 'rounds' && second === 'season' && !third) return { page: Season, props: {} };
  if (section === 'fieldwork') {
    if (!second) return { page: Fieldwork, props: {} };
    if (second === 'visit' && third) return { page: FieldVisit, props: { visit: third } };
    if (second === 'paper' && !third) return { page: PaperEntry, props: {} };
  }
  if (section === 'weigh') {
    if (!second) return { page: Weigh, props: {} };
    if (second === 'practice' && !third) return { page: Practice, props: {} };
  }
  if (section === 'settings') {
    if (!second) return { page: Settings, props: {} };
    if (second === 'rules' && third) return { page: Rules, props: { book: third } };
    if (second === 'people' && !third) return { page: People, props: {} };
    if (second === 'journal') return { page: Journal, props: {} };
  }
  return { page: NoSuchPage, props: {} };
}

/* The screens of the field book, for the shell: a pattern of an address, and what stands there. */

import type { Component } from 'svelte';
import '../fieldbook.css';
import type { Book } from '../contract';
import After from './After.svelte';
import Amend from './Amend.svelte';
import Colonies from './Colonies.svelte';
import Colony from './Colony.svelte';
import Day from './Day.svelte';
import Found from './Found.svelte';
import Guide from './Guide.svelte';
import Guides from './Guides.svelte';
import Keeper from './Keeper.svelte';
import Near from './Near.svelte';
import Notes from './Notes.svelte';
import Other from './Other.svelte';
import Photos from './Photos.svelte';
import Place from './Place.svelte';
import Samples from './Samples.svelte';
import SignOff from './SignOff.svelte';
import Signs from './Signs.svelte';
import Stop from './Stop.svelte';
import Tests from './Tests.svelte';
import Visit from './Visit.svelte';
import Visits from './Visits.svelte';
import Washing from './Washing.svelte';
import Weather from './Weather.svelte';
import Weighing from './Weighing.svelte';

export { setWay, type Go } from '../parts/way';

export type Screen = Component<{ book: Book; params: Record<string, string> }>;

export const SCREENS: readonly { pattern: string; screen: Screen }[] = [
  { pattern: '/', screen: Day },
  { pattern: '/near', screen: Near },
  { pattern: '/other', screen: Other },
  { pattern: '/found', screen: Found },
  { pattern: '/visits', screen: Visits },
  { pattern: '/guides', screen: Guides },
  { pattern: '/guides/:guide', screen: Guide },
  { pattern: '/stop/:apiary', screen: Stop },
  { pattern: '/visit/:visit', screen: Visit },
  { pattern: '/visit/:visit/place', screen: Place },
  { pattern: '/visit/:visit/weather', screen: Weather },
  { pattern: '/visit/:visit/colonies', screen: Colonies },
  { pattern: '/visit/:visit/colony/:colony', screen: Colony },
  { pattern: '/visit/:visit/colony/:colony/signs', screen: Signs },
  { pattern: '/visit/:visit/colony/:colony/tests', screen: Tests },
  { pattern: '/visit/:visit/colony/:colony/photos', screen: Photos },
  { pattern: '/visit/:visit/colony/:colony/samples', screen: Samples },
  { pattern: '/visit/:visit/colony/:colony/weighing', screen: Weighing },
  { pattern: '/visit/:visit/photos', screen: Photos },
  { pattern: '/visit/:visit/samples', screen: Samples },
  { pattern: '/visit/:visit/keeper', screen: Keeper },
  { pattern: '/visit/:visit/washing', screen: Washing },
  { pattern: '/visit/:visit/notes', screen: Notes },
  { pattern: '/visit/:visit/sign', screen: SignOff },
  { pattern: '/visit/:visit/after', screen: After },
  { pattern: '/visit/:visit/amend', screen: Amend },
];

function match(pattern: string, path: string): Record<string, string> | null {
  const [wanted, given] = [pattern.split('/'), path.split('/')];
  if (wanted.length !== given.length) return null;
  const params: Record<string, string> = {};
  for (const [place, part] of wanted.entries()) {
    const name = given[place] ?? '';
    if (part.startsWith(':')) params[part.slice(1)] = decodeURIComponent(name);
    else if (part !== name) return null;
  }
  return params;
}

/* The screen of a path; what is nowhere leads to the day. */
export function screenFor(path: string): { screen: Screen; params: Record<string, string> } {
  const plain = (path.split('?')[0] ?? '').replace(/\/+$/, '') || '/';
  for (const { pattern, screen } of SCREENS) {
    const params = match(pattern, plain);
    if (params) return { screen, params };
  }
  return { screen: Day, params: {} };
}

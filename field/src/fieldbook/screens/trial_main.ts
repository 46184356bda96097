import '../../styles/fonts.css';
import '../../styles/tokens.css';
import '../../styles/base.css';
import '../../state/theme.svelte';
import { mount } from 'svelte';
import { useCatalogue } from '../../words/words';
import Trial from './Trial.svelte';

const words = (await (await fetch('/api/words/en')).json()) as { words: Record<string, string[]> };
useCatalogue('en', words.words);
mount(Trial, { target: document.getElementById('book')! });

import './fonts.css';
import '../styles/tokens.css';
import '../styles/base.css';
import '../state/theme.svelte';
import { mount } from 'svelte';
import { session } from './core/session.svelte';
import { renewal } from './core/worker.svelte';
import Shell from './Shell.svelte';

const target = document.getElementById('fieldbook');
if (!target) throw new Error('Expected the page to have a place for the field book.');
mount(Shell, { target });
/* The book at hand for support and tests; the content policy lets no foreign script near it. */
Object.assign(globalThis, { fieldbook: session });
void session.start();
void renewal.start().catch((error: unknown) => console.warn('The field book is not kept for offline use.', error));

import './styles/fonts.css';
import './styles/tokens.css';
import './styles/base.css';
import './styles/print.css';
import './state/theme.svelte';
import { mount } from 'svelte';
import App from './App.svelte';

const book = document.getElementById('book');
if (!book) throw new Error('Expected the page to have a place for the book.');
mount(App, { target: book });

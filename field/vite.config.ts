import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vite';
import { fieldBook } from './vite.fieldbook.ts';
import { squeezed } from './vite.squeezed.ts';

/* The pages are built into the Python package, which serves them; in development Vite passes /api on to a running desk. */
export default defineConfig({
  plugins: [svelte(), fieldBook(), squeezed()],
  base: '/',
  build: {
    outDir: '../src/broodsweep/web/static',
    emptyOutDir: true,
    target: 'es2022',
    assetsInlineLimit: 0,
    chunkSizeWarningLimit: 1200,
    modulePreload: { polyfill: false },
    rolldownOptions: {
      input: { index: 'index.html', fieldbook: 'fieldbook.html', sw: 'src/fieldbook/sw.ts' },
      output: {
        entryFileNames: (chunk) => (chunk.name === 'sw' ? 'field/sw.js' : 'assets/[name]-[hash].js'),
      },
    },
  },
  worker: { format: 'es' },
  server: { proxy: { '/api': 'http://127.0.0.1:8000', '/basemap': 'http://127.0.0.1:8000' } },
});

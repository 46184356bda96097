import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vite';

/* The pages are built into the Python package, which serves them; in development Vite passes /api on to a running desk. */
export default defineConfig({
  plugins: [svelte()],
  base: '/',
  build: {
    outDir: '../src/broodsweep/web/static',
    emptyOutDir: true,
    target: 'es2022',
    assetsInlineLimit: 0,
    chunkSizeWarningLimit: 1200,
  },
  worker: { format: 'es' },
  server: { proxy: { '/api': 'http://127.0.0.1:8000', '/basemap': 'http://127.0.0.1:8000' } },
});

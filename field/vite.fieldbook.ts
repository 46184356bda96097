/* Writes into the service worker which files the field book needs to open with no network; the map's are listed apart. */

import type { Plugin, Rolldown } from 'vite';

const PAGE = 'fieldbook.html';
const PLACE = 'self.__BOOK_FILES';
/* Fetched when the map is taken along, and never before: large, and of no use without its layers. */
const MAP = /maplibre|\/src\/map\/(sheet|MapView)/;

type Bundle = Rolldown.OutputBundle;

/* Names of the chunks that a chunk needs, itself first; those of the map only when they are asked for. */
function needed(bundle: Bundle, start: readonly string[], skip: (chunk: Rolldown.OutputChunk) => boolean): Set<string> {
  const found = new Set<string>();
  const open = [...start];
  for (let name = open.pop(); name !== undefined; name = open.pop()) {
    const chunk = bundle[name];
    if (!chunk || chunk.type !== 'chunk' || found.has(name) || skip(chunk)) continue;
    found.add(name);
    open.push(...chunk.imports, ...chunk.dynamicImports);
  }
  return found;
}

/* The files that chunks bring with them: style sheets, and what those name. */
function withAssets(bundle: Bundle, chunks: Set<string>): Set<string> {
  const found = new Set(chunks);
  for (const name of chunks) {
    const chunk = bundle[name] as Rolldown.OutputChunk & { viteMetadata?: { importedCss: Set<string>; importedAssets: Set<string> } };
    for (const extra of [...(chunk.viteMetadata?.importedCss ?? []), ...(chunk.viteMetadata?.importedAssets ?? [])]) found.add(extra);
    for (const file of Object.keys(bundle)) if (chunk.code.includes(file)) found.add(file);
  }
  for (const name of [...found]) {
    const asset = bundle[name];
    if (asset?.type !== 'asset' || !name.endsWith('.css')) continue;
    for (const file of Object.keys(bundle)) if (String(asset.source).includes(file)) found.add(file);
  }
  return found;
}

function isOfTheMap(chunk: Rolldown.OutputChunk): boolean {
  return chunk.moduleIds.some((id) => MAP.test(id));
}

async function digest(content: string): Promise<string> {
  const bytes = new Uint8Array(await crypto.subtle.digest('SHA-256', new TextEncoder().encode(content)));
  return Array.from(bytes.slice(0, 8), (byte) => byte.toString(16).padStart(2, '0')).join('');
}

export function fieldBook(): Plugin {
  return {
    name: 'broodsweep-field-book',
    apply: 'build',
    enforce: 'post',
    async generateBundle(_, bundle) {
      const page = bundle[PAGE];
      const worker = bundle['field/sw.js'];
      const entry = Object.values(bundle).find((one) => one.type === 'chunk' && one.isEntry && one.name === 'fieldbook');
      if (page?.type !== 'asset' || worker?.type !== 'chunk' || entry?.type !== 'chunk') {
        this.error('Expected the page, the entry and the service worker of the field book in the bundle.');
      }
      const own = withAssets(bundle, needed(bundle, [entry.fileName], isOfTheMap));
      const everything = withAssets(bundle, needed(bundle, [entry.fileName], () => false));
      const revision = await digest(String(page.source));
      const files = [
        ...['/field/', '/field/field.webmanifest', '/mark.svg'].map((url) => ({ url, revision })),
        ...[...own].filter((file) => file.startsWith('assets/')).sort().map((file) => ({ url: `/${file}`, revision: null })),
      ];
      if (!worker.code.includes(PLACE)) this.error(`Expected ${PLACE} in the service worker.`);
      if (/^\s*import\b/m.test(worker.code)) this.error('Expected the service worker to be one file.');
      worker.code = worker.code.replace(PLACE, JSON.stringify(files));
      const map = [...everything].filter((file) => !own.has(file) && file.startsWith('assets/')).sort();
      this.emitFile({ type: 'asset', fileName: 'field/map.json', source: JSON.stringify({ files: map.map((file) => `/${file}`) }) });
    },
  };
}

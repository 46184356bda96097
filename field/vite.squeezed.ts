/* Puts each text file beside itself compressed: the desk sends that to a browser that can read it. */

import type { Plugin } from 'vite';

const TEXT = /\.(js|css|html|json)$/;
const LEAST_BYTES = 1024;

async function gzip(content: string | Uint8Array): Promise<Uint8Array> {
  const bytes = new Blob([content as BlobPart]).stream().pipeThrough(new CompressionStream('gzip'));
  return new Uint8Array(await new Response(bytes).arrayBuffer());
}

export function squeezed(): Plugin {
  return {
    name: 'broodsweep-squeezed',
    apply: 'build',
    enforce: 'post',
    generateBundle: {
      order: 'post',
      async handler(_, bundle) {
        for (const [name, made] of Object.entries(bundle)) {
          const content = made.type === 'chunk' ? made.code : made.source;
          if (!TEXT.test(name) || content.length < LEAST_BYTES) continue;
          this.emitFile({ type: 'asset', fileName: `${name}.gz`, source: await gzip(content) });
        }
      },
    },
  };
}

/* Bundles the checks with the phone's core for Node: node bundle_core.mjs <field folder> <entry> <out file>. */
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';

const [field, entry, out] = process.argv.slice(2);
const { rolldown } = await import(pathToFileURL(join(field, 'node_modules/rolldown/dist/index.mjs')));
const bundle = await rolldown({
  input: entry,
  platform: 'node',
  resolve: { modules: [join(field, 'node_modules')], alias: { '@core': join(field, 'src/fieldbook/core') } },
  logLevel: 'silent',
});
await bundle.write({ file: out, format: 'esm', codeSplitting: false });

/* What the tests ask of the screens' parts, in Node: questions as JSON on stdin, answers as JSON on stdout. */
import type { VisitNow } from '../../field/src/fieldbook/contract';
import { flowTimes, momentOf } from '../../field/src/fieldbook/parts/flow';
import { newFoundKey } from '../../field/src/fieldbook/parts/foundKey';
import { cleanLabel, labelFault } from '../../field/src/fieldbook/parts/labels';
import { seasonOf } from '../../field/src/fieldbook/parts/observed';
import { bearingDegree, distanceM, gapM, inRing, readPlace } from '../../field/src/fieldbook/parts/place';
import { nextStep, STEPS, stateOf, tallyOf } from '../../field/src/fieldbook/parts/visit';
import { kitTest } from '../../field/src/fieldbook/parts/readings';
import model from '../../field/src/weigh/model.json';

type Ask = Record<string, any>;

const EMPTY: VisitNow = {
  visit: 'v', device: 'd', apiary: 'A', purpose: 'sweep', visited_on: '2026-07-08', place: null, weather: null,
  present: null, colonies: [], samples: [], photos: [], cleaned: null, reports: [], notes: [], signed: null,
  amended: [], is_dropped: false, is_whole: false, late: [], foreign: [],
};

const COMMANDS: Record<string, (ask: Ask) => unknown> = {
  distance: ({ pairs }) => pairs.map(([a, b]: any) => [distanceM(a, b), bearingDegree(a, b)]),
  ring: ({ pairs, radius }) => pairs.map(([a, b]: any) => inRing(a, b, radius)),
  gap: ({ fix, square }) => gapM(fix, square),
  place: ({ texts }) => texts.map(readPlace),
  label: ({ rows }) => rows.map(([label, again, used]: any) => labelFault(cleanLabel(label), again, used)),
  season: ({ rows }) => rows.map(([on, latitude]: any) => seasonOf(on, latitude)),
  flow: ({ seconds }) => seconds.map((past: number) => momentOf(flowTimes(model as never), past)),
  kits: ({ kits }) => kits.map((kit: string) => kitTest(kit, model.methods.map((row) => row.name))),
  keys: ({ count }) => Array.from({ length: count }, newFoundKey),
  steps: ({ visit }) => {
    const now = { ...EMPTY, ...visit } as VisitNow;
    return {
      states: Object.fromEntries(STEPS.map((step) => [step, stateOf(now, step)])),
      next: Object.fromEntries(STEPS.map((step) => [step, nextStep(now, step)])),
      tally: tallyOf(now),
    };
  },
};

const chunks: Buffer[] = [];
for await (const chunk of process.stdin) chunks.push(chunk as Buffer);
const asked = JSON.parse(Buffer.concat(chunks).toString()) as { command: string; ask: Ask };
process.stdout.write(JSON.stringify(COMMANDS[asked.command]!(asked.ask)), () => process.exit(0));

/* Runs the phone's evaluator: node run_evaluator.cjs <folder of compiled code> <questions.json> → answers on stdout. */
const { readFileSync } = require("node:fs");
const { join, resolve } = require("node:path");
const folder = resolve(process.argv[2]);
const load = (name) => require(join(folder, name));
const { buildNetwork } = load("weigh/network.js");
const { evaluate, stateWeights } = load("weigh/evaluate.js");
const { nextTests } = load("weigh/next.js");
const { decide } = load("weigh/decide.js");
const { explain } = load("weigh/reasons.js");
const { numberNames, numberSaid } = load("weigh/assumptions.js");
const { tell } = load("weigh/message.js");
const { tellWeighing } = load("weigh/told.js");
const { Weigher } = load("weigh/weigher.js");
globalThis.document = { documentElement: {} }; // the catalogue of the pages names its language there
const { t, useCatalogue } = load("words/words.js");

const asked = JSON.parse(readFileSync(process.argv[3], "utf8"));
const { model } = asked;
useCatalogue("en", asked.words);
const weigher = new Weigher(model);

const answers = asked.sets.map(({ draws, observations, withNext }) => {
  const network = buildNetwork(model, draws);
  const beliefs = observations.map((observed) => evaluate(network, observed));
  const decisions = observations.map((observed, index) => decide(model, beliefs[index], observed));
  const next = withNext
    ? observations.map((observed, index) =>
        nextTests(network, stateWeights(network, observed), observed, decisions[index], model.thresholds),
      )
    : [];
  const reasons = withNext ? [] : observations.slice(0, 40).map((observed) => explain(network, observed, "AFB"));
  return { beliefs, next, decisions, reasons };
});

function read(reading) {
  try {
    const { notes, ...rest } = weigher.interpret(reading, reading.sample === "no register" ? null : asked.lots);
    return { ...rest, notes: notes.map((note) => tell(note, t)) };
  } catch (error) {
    if (!error.sentence) throw error;
    return { error: tell(error.sentence, t) };
  }
}

function told({ readings, ...observed }) {
  const results = readings.map((reading) => weigher.interpret(reading, null));
  const answer = weigher.weigh({ ...observed, results }, asked.thresholds);
  const assumptions = weigher.assumptions({ ...observed, results }, answer.about);
  return {
    ...tellWeighing(model, answer, results, t, asked.thresholds),
    assumptions: assumptions.map((one) => ({ ...one, text: tell(numberSaid(model, one.where), t) })),
  };
}

process.stdout.write(
  JSON.stringify({
    answers,
    readings: asked.readings.map(read),
    questions: asked.questions.map(({ signs, asked: before }) =>
      weigher.question({ signs, observer: "untrained", season: "summer" }, before),
    ),
    names: numberNames(model),
    told: asked.told.map(told),
  }),
);

/* Runs the phone's evaluator: node run_evaluator.cjs <folder of compiled code> <questions.json> → answers on stdout. */
const { readFileSync } = require("node:fs");
const { join, resolve } = require("node:path");
const folder = resolve(process.argv[2]);
const load = (name) => require(join(folder, name));
const { buildNetwork } = load("network.js");
const { evaluate, stateWeights } = load("evaluate.js");
const { nextTests } = load("next.js");
const { ropeOutcome, readFlow } = load("reading.js");
const { decide } = load("decide.js");
const { explain } = load("reasons.js");
const { model, sets, ropes, flows } = JSON.parse(readFileSync(process.argv[3], "utf8"));
const answers = sets.map(({ draws, observations, withNext }) => {
  const network = buildNetwork(model, draws);
  const begun = process.hrtime.bigint();
  const beliefs = observations.map((observed) => evaluate(network, observed));
  const milliseconds = Number(process.hrtime.bigint() - begun) / 1e6 / Math.max(observations.length, 1);
  const next = withNext
    ? observations.map((observed) => nextTests(network, stateWeights(network, observed), observed))
    : [];
  const decisions = observations.map((observed, index) => decide(model, beliefs[index], observed));
  const reasons = withNext ? [] : observations.slice(0, 40).map((observed) => explain(network, observed, "AFB"));
  return { beliefs, next, milliseconds, decisions, reasons };
});
process.stdout.write(
  JSON.stringify({
    answers,
    ropes: ropes.map((length) => ropeOutcome(model, length)),
    flows: flows.map((reading) => readFlow(model, reading)),
  }),
);

/**
 * The least that a program of this kind does: loads a parser of YAML, a reader of commands and a solver, reads the files
 * of the demo, and solves one linear program. No checks, no seasons, no proof. Cold starts are told in times of this.
 */
const fs = require("node:fs");
const path = require("node:path");
const { Command } = require("commander");
const solver = require("javascript-lp-solver");
const { parse } = require("yaml");

new Command()
  .argument("<plan>")
  .action((file) => {
    const read = (name) => parse(fs.readFileSync(path.join(path.dirname(file), name), "utf8"));
    const plan = read(path.basename(file));
    const { amendments } = read(plan.amendments);
    const { need } = read(plan.target);
    const acres = Number.parseFloat(plan.bed.area) / 43560;
    const constraints = {};
    for (const [nutrient, asked] of Object.entries(need))
      if (nutrient !== "per") constraints[nutrient] = { min: Number.parseFloat(asked.min ?? asked) * acres };
    const variables = {};
    for (const [id, { analysis, packs }] of Object.entries(amendments)) {
      if (!packs) continue;
      const cost = Math.min(...packs.map(({ size, price }) => price / Number.parseFloat(size)));
      variables[id] = { cost };
      for (const [nutrient, percent] of Object.entries(analysis)) variables[id][nutrient] = percent / 100;
    }
    const { feasible, result } = (solver.default ?? solver).Solve({
      ...{ optimize: "cost", opType: "min" },
      ...{ constraints, variables },
    });
    console.log(JSON.stringify({ feasible, result }));
  })
  .parse();

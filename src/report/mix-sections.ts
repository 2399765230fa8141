/** The mix by weight, how it is split, what it costs, and what rounding does to it. */
import type { Solution } from "../results/solution.ts";
import { counted, listed, percent, scaleWeight } from "../words/numbers.ts";
import { thatSure } from "../words/sure-words.ts";
import { heaviestFirst } from "./batch-tables.ts";
import { purchaseProof } from "./purchase-sections.ts";
import {
  type Block,
  blocksOf,
  bullets,
  cell,
  figures,
  paragraph,
  type Section,
  section,
  table,
  words,
} from "./report.ts";
import type { View } from "./solution-view.ts";
import { sum, TOLERANCE } from "./writer.ts";

/** A miss by rounding from which on it is said at the top of the answer; a judgement. */
const COARSE = 0.05;

export function headline({ solution, total, money, weight }: View): Block[] {
  const { cost, verification, inputs } = solution;
  const plants = inputs.bed.plants;
  const each =
    cost.perPlant === null || plants === undefined
      ? ""
      : `, ${money(cost.perPlant)} for each of ${counted(plants, "plant")}`;
  const kg = sum(solution.amendments.map((a) => a.kg));
  const inShed = sum(solution.amendments.map((a) => a.stockKg)) >= kg * (1 - TOLERANCE);
  const bought = solution.purchase?.basis === "packs" ? solution.purchase : undefined;
  const price =
    kg === 0
      ? "Nothing needs to be mixed: what feeds the crop already is enough."
      : bought
        ? `The mix on what is bought for ${listed(bought.plans)}: ${money(bought.total)} in all, delivery included.`
        : `The least-cost mix costs ${money(total)} by weight${each}${inShed ? "; all of it is in the shed" : ""}.`;
  const proven = bought
    ? purchaseProof(bought.gap, [inputs])
    : verification.gap <= TOLERANCE
      ? `no other mix ${solution.simple ? "within the limits of `simple`" : "of these amendments"}${thatSure(inputs.sure)} costs less`
      : `the cheapest possible mix costs at most ${percent(verification.gap)} less`;
  return blocksOf(
    paragraph(price, "strong"),
    paragraph(
      `${inputs.targetName}, ${counted(inputs.seasonDays, "day")}: ${weight(kg)} in ${counted(solution.applications.length, "application")}.`,
    ),
    paragraph(`Verified: every demand holds; ${proven}.`, "good"),
    paragraph(coarseScale(solution), "bad"),
  );
}

/** A word at the top where what is weighed is far from what was verified. */
function coarseScale({ rounding: { scaleKg, worstShortfall }, units }: Solution): string {
  const { nutrient, fraction } = worstShortfall;
  return nutrient === null || fraction <= COARSE
    ? ""
    : `Rounded to ${scaleWeight(scaleKg, scaleKg, units)} this no longer holds: ${nutrient} falls ${percent(fraction)} below its need. Weigh on a finer scale, or make larger batches.`;
}

export function mixSections({ solution, weight, money, masses, cash, total }: View): Section[] {
  const used = heaviestFirst(solution.amendments);
  return section(
    "The mix, for the whole season",
    table(
      used,
      [
        words("Amendment", "amendment", (a) => a.name),
        masses("Weight", "weight", (a) => a.kg),
        figures("Share", "share", (a) => a.share, percent),
        cash("Cost", "cost", (a) => a.cost),
        masses("From the shed", "stock", (a) => (a.stockKg > 0 ? a.stockKg : null)),
      ],
      [
        "Total",
        weight(sum(used.map((a) => a.kg))),
        percent(sum(used.map((a) => a.share))),
        money(total),
        weight(sum(used.map((a) => a.stockKg))),
      ],
    ),
  );
}

/** What one more pound or kilogram of each binding need would cost, where the sensitivity does not say more. */
export function worthSections({ solution, weightUnit, perUnit }: View): Section[] {
  const { nutrients, sensitivity } = solution;
  const bind = sensitivity ? [] : nutrients.filter(({ shadowPricePerKg }) => (shadowPricePerKg ?? 0) > 0);
  return section(
    "What the needs cost at the margin",
    bullets(
      bind.map(
        ({ nutrient, shadowPricePerKg }) =>
          `One more ${weightUnit} of ${nutrient} needed would cost ${perUnit(shadowPricePerKg!)}.`,
      ),
    ),
  );
}

export function roundingSections({ solution }: View): Section[] {
  const { scaleKg, worstShortfall, worstBreach } = solution.rounding;
  return section(
    `After rounding the weights to ${scaleWeight(scaleKg, scaleKg, solution.units)}`,
    bullets([
      worstShortfall.nutrient === null || worstShortfall.fraction <= TOLERANCE
        ? "No need is missed."
        : `The worst miss is ${worstShortfall.nutrient}, ${percent(worstShortfall.fraction)} below its need.`,
      worstBreach === null || worstBreach.fraction <= TOLERANCE
        ? ""
        : `The worst excess: ${worstBreach.demand}, ${percent(worstBreach.fraction)} over.`,
    ]),
  );
}

/** One section where a split was searched for, else none. */
export function splitSections({ solution: { split }, money }: View): Section[] {
  if (!split) return [];
  const title = "The split of the applications";
  const splits = `${counted(split.splits, "split")} in steps of ${percent(split.step)}, each at least ${percent(split.least)}`;
  if (!split.found || split.total === null)
    return section(title, paragraph(`None of the ${splits} has a mix.`, "bad"));
  const saved = split.today === null ? null : split.today - split.total;
  const verdict =
    saved === null
      ? "As planned there is no mix at all."
      : saved > 5e-3
        ? `It saves ${money(saved)} against the plan.`
        : saved < -5e-3
          ? `The plan's own split is finer than these steps and costs ${money(-saved)} less.`
          : "The plan's own split is as good.";
  const [first] = split.applications;
  return section(
    title,
    paragraph(
      split.complete
        ? `The cheapest of all ${splits}. ${verdict}`
        : `The cheapest found of ${splits}; none can cost less than ${money(split.bound ?? 0)}. ${verdict}`,
    ),
    table(
      split.applications,
      [
        words("Application", "application", (a) => a.name),
        figures("Best split", "share", (a) => a.share, percent),
        figures("As planned", "planned_share", (a) => a.today, percent),
        figures("Next best", "next_share", (a) => a.runnerUp, percent),
      ],
      [
        "Cost of the mix",
        money(split.total),
        split.today === null ? cell("no mix", "bad") : money(split.today),
        split.runnerUp === null ? "" : money(split.runnerUp),
      ],
    ),
    paragraph(
      first && first.share > first.today
        ? "What is spread earlier has longer to release, which is why less of it does. It also lies open to rain for longer; only `ahead_max` in the target holds it back."
        : "",
    ),
  );
}

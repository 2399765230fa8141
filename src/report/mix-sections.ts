/** The mix by weight, what it costs, and what rounding does to it. */
import type { Solution } from "../results/solution.ts";
import { counted, listed, moneyPerUnit, percent, scaleWeight } from "../words/numbers.ts";
import { thatSure } from "../words/sure-words.ts";
import { purchaseProof } from "./purchase-sections.ts";
import {
  type Block,
  bullets,
  cell,
  figures,
  numberCell,
  paragraph,
  type Section,
  tableBlock,
  tableOf,
  words,
} from "./report.ts";
import { masses, sum, TOLERANCE, type View } from "./solution-view.ts";

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
  return [
    paragraph(price, "strong"),
    paragraph(
      `${inputs.targetName}, ${counted(inputs.seasonDays, "day")}: ${weight(kg)} in ${counted(solution.applications.length, "application")}.`,
    ),
    paragraph(`Verified: every demand holds; ${proven}.`, "good"),
    ...coarseScale(solution),
  ];
}

/** A word at the top where what is weighed is far from what was verified. */
function coarseScale({ rounding, units }: Solution): Block[] {
  const { nutrient, fraction } = rounding.worstShortfall;
  if (nutrient === null || fraction <= COARSE) return [];
  const scale = scaleWeight(rounding.scaleKg, rounding.scaleKg, units);
  return [
    paragraph(
      `Rounded to ${scale} this no longer holds: ${nutrient} falls ${percent(fraction)} below its need. Weigh on a finer scale, or make larger batches.`,
      "bad",
    ),
  ];
}

export function mixSections(view: View): Section[] {
  if (view.order.length === 0) return [];
  const { solution, inUnit, weight, money, weightUnit } = view;
  const used = view.order.map((id) => solution.amendments.find((a) => a.id === id)!);
  const kgCell = (kg: number) => numberCell(weight(kg), inUnit(kg));
  const share = sum(used.map((a) => a.share));
  const shed = used.some((a) => a.stockKg > 0);
  const table = tableOf(
    used,
    [
      words("Amendment", "amendment", (a) => a.name),
      masses(view, "Weight", "weight", (a) => a.kg),
      figures("Share", "share", (a) => a.share, percent),
      figures("Cost", "cost", (a) => a.cost, money),
      masses(view, "From the shed", "stock", (a) => (a.stockKg > 0 ? a.stockKg : null)),
    ],
    {
      amendment: cell("Total"),
      [`weight_${weightUnit}`]: kgCell(sum(used.map((a) => a.kg))),
      share: numberCell(percent(share), share),
      cost: numberCell(money(view.total), view.total),
      ...(shed ? { [`stock_${weightUnit}`]: kgCell(sum(used.map((a) => a.stockKg))) } : {}),
    },
  );
  return [{ title: "The mix, for the whole season", blocks: [tableBlock(table)] }];
}

/** What one more pound or kilogram of each binding need would cost, where the sensitivity does not say more. */
export function worthSections(view: View): Section[] {
  const { solution } = view;
  if (solution.sensitivity) return [];
  const unit = solution.units === "us" ? "lb" : "kg";
  const items = solution.nutrients
    .filter(({ shadowPricePerKg }) => (shadowPricePerKg ?? 0) > 0)
    .map(
      (n) =>
        `One more ${unit} of ${n.nutrient} needed would cost ${moneyPerUnit(n.shadowPricePerKg ?? 0, solution.currency, solution.units)}.`,
    );
  return items.length === 0 ? [] : [{ title: "What the needs cost at the margin", blocks: [bullets(items)] }];
}

export function roundingSections({ solution }: View): Section[] {
  const { scaleKg, worstShortfall, worstBreach } = solution.rounding;
  const items = [
    worstShortfall.nutrient === null || worstShortfall.fraction <= TOLERANCE
      ? "No need is missed."
      : `The worst miss is ${worstShortfall.nutrient}, ${percent(worstShortfall.fraction)} below its need.`,
    ...(worstBreach === null || worstBreach.fraction <= TOLERANCE
      ? []
      : [`The worst excess: ${worstBreach.demand}, ${percent(worstBreach.fraction)} over.`]),
  ];
  return [
    {
      title: `After rounding the weights to ${scaleWeight(scaleKg, scaleKg, solution.units)}`,
      blocks: [bullets(items)],
    },
  ];
}

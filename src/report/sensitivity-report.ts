/** What the mix says about prices, demands and stock, as sections of a report. */
import type {
  AmendmentSensitivity,
  DemandSensitivity,
  Sensitivity,
  StockSensitivity,
} from "../results/solution.ts";
import { demandName } from "../words/demand-words.ts";
import { bagWeight, percent, signed, weightBeside } from "../words/numbers.ts";
import type { View } from "./answer-view.ts";
import { bullets, figures, type Section, section, table, words } from "./report.ts";

/** The sections, in the units and the currency of the solution; none where nothing was analysed. */
export function sensitivitySections(view: View): Section[] {
  const { sensitivity } = view.solution;
  if (!sensitivity) return [];
  return [
    ...demandSection(view, sensitivity),
    ...priceSection(view, sensitivity),
    ...section("What the shed is worth", bullets(sensitivity.stock.map((stock) => stockWords(view, stock)))),
  ];
}

function demandSection(
  { solution, weightUnit, money, perUnit }: View,
  { demands, notes }: Sensitivity,
): Section[] {
  const amount = (value: number, demand: DemandSensitivity): string =>
    demand.unit === "share" ? percent(value) : weightBeside(value, demand.value, solution.units);
  const range = (demand: DemandSensitivity): string | null => {
    if (demand.unit === "share") return null;
    const from = demand.lessHoldsTo === null ? "nothing" : amount(demand.lessHoldsTo, demand);
    return demand.moreHoldsTo === null
      ? `from ${from} up`
      : `${from} to ${amount(demand.moreHoldsTo, demand)}`;
  };
  const one = (side: "more" | "less", costOf: (demand: DemandSensitivity) => number | null) =>
    figures<DemandSensitivity>(
      `One ${weightUnit} ${side}${demands.some(({ unit }) => unit === "share") ? " (or 1%)" : ""}`,
      `cost_of_${side}_per_${weightUnit}`,
      costOf,
      // Of a share the natural unit is one percent of the blend.
      (cost, { unit }) => signed(cost, unit === "share" ? (whole) => money(whole / 100) : perUnit),
    );
  return section(
    "What more or less of each need would cost",
    table(demands, [
      words("Of", "demand", (d) => demandName(solution.inputs.plans[0]!, d)),
      figures("The plan says", "value", (d) => d.value, amount),
      one("more", (d) => d.costOfMore),
      one("less", (d) => d.costOfLess),
      words("true between", "holds", range),
    ]),
    bullets(notes),
  );
}

function priceSection({ solution, name, weightUnit, perUnit }: View, { amendments }: Sensitivity): Section[] {
  const used = new Set(solution.purchases.flatMap(({ id, usedKg }) => (usedKg > 0 ? [id] : [])));
  const order = (a: AmendmentSensitivity): number => (used.has(a.id) ? 0 : 1);
  const priced = amendments
    .filter(({ pricePerKg }) => pricePerKg !== null)
    .toSorted((a, b) => order(a) - order(b));
  const meaning = (a: AmendmentSensitivity): string => {
    const { entersBelowPerKg: below = null, stableFromPerKg: from = null, stableToPerKg: to = null } = a;
    if (!used.has(a.id))
      return below === null ? "worth buying at no price" : `worth buying below ${perUnit(below)}`;
    if (from === null) return to === null ? "same mix at any price" : `same mix up to ${perUnit(to)}`;
    return `same mix from ${perUnit(from)} ${to === null ? "up" : `to ${perUnit(to)}`}`;
  };
  return section(
    "What each price means for the mix by weight",
    table(priced, [
      words("Amendment", "amendment", (a) => name(a.id)),
      words("In the mix", "used", (a) => (used.has(a.id) ? "yes" : "no")),
      figures(`Price per ${weightUnit}`, "price_per_kg", (a) => a.pricePerKg, perUnit),
      words(`What its price per ${weightUnit} means`, "meaning", meaning),
    ]),
  );
}

function stockWords(
  { solution, name, weightUnit, weight, money, perUnit }: View,
  stock: StockSensitivity,
): string {
  const { id, stockKg, packKg, packSaves, stockSaves, perKg } = stock;
  const saves =
    stockSaves === null
      ? "cannot be done without"
      : stockSaves > 0
        ? `saves ${money(stockSaves)}`
        : "saves nothing";
  const [one, saved] =
    packKg === null || packSaves === null
      ? [weightUnit, perKg > 0 ? perUnit(perKg) : null]
      : [`${bagWeight(packKg, solution.units)} bag`, packSaves > 0 ? money(packSaves) : null];
  const more = saved === null ? "more of it would save nothing" : `one more ${one} would save ${saved}`;
  return `${name(id)}: the ${weight(stockKg)} in the shed ${saves}; ${more}.`;
}

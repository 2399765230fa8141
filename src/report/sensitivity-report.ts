/** What the mix says about prices, demands and stock, as sections of a report. */
import type {
  AmendmentSensitivity,
  DemandSensitivity,
  Sensitivity,
  Solution,
  StockSensitivity,
} from "../results/solution.ts";
import { fromSi } from "../units.ts";
import { demandName, nameOf } from "../words/demand-words.ts";
import { bagWeight, money, moneyPerUnit, percent, signed, weight, weightBeside } from "../words/numbers.ts";
import { type Block, bullets, figures, type Section, tableBlock, tableOf, words } from "./report.ts";

/** The sections, in the units and the currency of the solution; none where nothing was analysed. */
export function sensitivitySections(solution: Solution): Section[] {
  const { sensitivity } = solution;
  if (!sensitivity) return [];
  return [
    ...demandSection(solution, sensitivity),
    ...priceSection(solution, sensitivity),
    ...stockSection(solution, sensitivity),
  ];
}

const unitOf = ({ units }: Solution): "lb" | "kg" => (units === "us" ? "lb" : "kg");

function demandSection(solution: Solution, { demands, notes }: Sensitivity): Section[] {
  const unit = unitOf(solution);
  const amount = (demand: DemandSensitivity, value: number): string =>
    demand.unit === "share" ? percent(value) : weightBeside(value, demand.value, solution.units);
  // Of a share the natural unit is one percent of the blend.
  const cost = (demand: DemandSensitivity, value: number): string =>
    signed(value, (amount) =>
      demand.unit === "share"
        ? money(amount / 100, solution.currency)
        : moneyPerUnit(amount, solution.currency, solution.units),
    );
  const perUnit = (demand: DemandSensitivity, value: number | null): number | null =>
    value === null
      ? null
      : demand.unit === "share"
        ? value / 100
        : solution.units === "us"
          ? value / fromSi(1, "lb")
          : value;
  const range = (demand: DemandSensitivity): string | null => {
    if (demand.unit === "share") return null;
    const from = demand.lessHoldsTo === null ? "nothing" : amount(demand, demand.lessHoldsTo);
    return demand.moreHoldsTo === null
      ? `from ${from} up`
      : `${from} to ${amount(demand, demand.moreHoldsTo)}`;
  };
  const shares = demands.some((demand) => demand.unit === "share");
  const table = tableOf(demands, [
    words("Of", "demand", (d) => demandName(solution.inputs, d)),
    figures(
      "The plan says",
      `value`,
      (d) => d.value,
      (value, d) => amount(d, value),
    ),
    figures(
      `One ${unit} more${shares ? " (or 1%)" : ""}`,
      `cost_of_more_per_${unit}`,
      (d) => perUnit(d, d.costOfMore),
      (_, d) => cost(d, d.costOfMore!),
    ),
    figures(
      `One ${unit} less${shares ? " (or 1%)" : ""}`,
      `cost_of_less_per_${unit}`,
      (d) => perUnit(d, d.costOfLess),
      (_, d) => cost(d, d.costOfLess!),
    ),
    words("which holds for", "holds", range),
  ]);
  const blocks: Block[] = [
    ...(demands.length > 0 ? [tableBlock(table)] : []),
    ...(notes.length > 0 ? [bullets(notes)] : []),
  ];
  return blocks.length === 0 ? [] : [{ title: "What one more or one less would change in the cost", blocks }];
}

function priceSection(solution: Solution, { amendments }: Sensitivity): Section[] {
  const unit = unitOf(solution);
  const value = (perKg: number | null | undefined): number | null =>
    perKg === null || perKg === undefined ? null : solution.units === "us" ? perKg / fromSi(1, "lb") : perKg;
  const used = new Set(solution.amendments.map(({ id }) => id));
  const priced = amendments.filter(({ pricePerKg }) => pricePerKg !== null);
  const order = (a: AmendmentSensitivity): number => (used.has(a.id) ? 0 : 1);
  const sorted = [...priced].sort((a, b) => order(a) - order(b));
  const meaning = (a: AmendmentSensitivity): string => {
    if (!used.has(a.id))
      return a.entersBelowPerKg === null || a.entersBelowPerKg === undefined
        ? "enters at no price"
        : `enters below ${moneyPerUnit(a.entersBelowPerKg, solution.currency, solution.units)}`;
    const from = a.stableFromPerKg ?? null;
    const to = a.stableToPerKg ?? null;
    if (from === null && to === null) return "same mix at any price";
    if (from === null) return `same mix up to ${moneyPerUnit(to!, solution.currency, solution.units)}`;
    if (to === null) return `same mix from ${moneyPerUnit(from, solution.currency, solution.units)} up`;
    return `same mix from ${moneyPerUnit(from, solution.currency, solution.units)} to ${moneyPerUnit(to, solution.currency, solution.units)}`;
  };
  const table = tableOf(sorted, [
    words("Amendment", "amendment", (a) => nameOf(solution.inputs, a.id)),
    words("In the mix", "used", (a) => (used.has(a.id) ? "yes" : "no")),
    figures(
      `Price per ${unit}`,
      `price_per_${unit}`,
      (a) => value(a.pricePerKg),
      (_, a) => moneyPerUnit(a.pricePerKg!, solution.currency, solution.units),
    ),
    words(`What its price per ${unit} means`, "meaning", meaning),
  ]);
  return sorted.length === 0
    ? []
    : [{ title: "What each price means for the mix", blocks: [tableBlock(table)] }];
}

function stockSection(solution: Solution, { stock }: Sensitivity): Section[] {
  const line = ({ id, stockKg, packKg, packSaves, stockSaves, perKg }: StockSensitivity): string => {
    const name = nameOf(solution.inputs, id);
    const cash = (amount: number): string => money(amount, solution.currency);
    const held = `${name}: the ${weight(stockKg, solution.units)} in the shed`;
    const saves =
      stockSaves === null
        ? "cannot be done without"
        : stockSaves > 0
          ? `saves ${cash(stockSaves)}`
          : "saves nothing";
    const more =
      packKg === null || packSaves === null
        ? perKg > 0
          ? `one more ${unitOf(solution)} would save ${moneyPerUnit(perKg, solution.currency, solution.units)}`
          : "more of it would save nothing"
        : packSaves > 0
          ? `one more ${bagWeight(packKg, solution.units)} bag would save ${cash(packSaves)}`
          : "more of it would save nothing";
    return `${held} ${saves}; ${more}.`;
  };
  return stock.length === 0 ? [] : [{ title: "What the shed is worth", blocks: [bullets(stock.map(line))] }];
}

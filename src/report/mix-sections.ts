/** What to stir: batches all alike, one list of weights for each mix. */
import type { BatchWeight, Mix } from "../results/solution.ts";
import { counted, percent, scaleWeight } from "../words/numbers.ts";
import { loose } from "../words/own-measures.ts";
import type { View } from "./answer-view.ts";
import {
  bullets,
  figures,
  paragraph,
  plain,
  type Section,
  section,
  sideBySide,
  table,
  words,
} from "./report.ts";
import { sum, TOLERANCE } from "./writer.ts";

/** When batches are made; all at once where something is shared out among them. */
export const STIR_ALL = "Make all batches now, and keep the mix dry.";
export const STIR = "Make all batches now, or each as a round needs it; keep the mix dry.";

/** Whether something is weighed once for all batches and shared out by eye, so that they are not quite alike. */
export const isByEye = ({ batches: { weights } }: Pick<Mix, "batches">): boolean =>
  weights.some(({ once }) => once);

/** A weight as the scale shows it; of what is weighed once for the whole heap, that. */
export function weighWords(
  { kg, once }: Pick<BatchWeight, "kg" | "once">,
  { batches }: Mix,
  { solution: { rounding, units } }: Pick<View, "solution">,
): string {
  return scaleWeight(once ? kg * batches.count : kg, rounding.scaleKg, units);
}

/** `Mix A: 5 batches, all alike`. */
function mixTitle(mix: Mix, view: View): string {
  const { name, batches } = mix;
  const { solution, several } = view;
  const batch = batches.count === 1 ? "1 batch" : `${counted(batches.count, "batch", "batches")}, all alike`;
  const [bed, ...others] = bedsOf(mix, view);
  if (solution.mixes.length === 1 && !several) return `Mix ${batch}`;
  return several && bed && others.length === 0 ? `Mix ${name}, ${bed}: ${batch}` : `Mix ${name}: ${batch}`;
}

/** The beds that get a mix. */
function bedsOf({ name }: Mix, { beds }: View): string[] {
  return beds.filter(({ bed }) => bed.rounds.some(({ mix }) => mix === name)).map(({ bed }) => bed.bed);
}

export function mixSections(view: View): Section[] {
  const { solution, name, beds } = view;
  const [first] = beds;
  return solution.mixes.flatMap((mix) => {
    const { weights, count, kgEach } = mix.batches;
    const { units, rounding } = solution;
    return section(
      mixTitle(mix, view),
      table(
        weights,
        [
          plain(
            figures(
              "Into each batch",
              "weight_kg",
              ({ kg }) => kg,
              (_, weight) => weighWords(weight, mix, view),
            ),
          ),
          plain(words("Material", "material", ({ id }) => name(id))),
          words("Loose, about", "loose", ({ mL, once }) => {
            if (once) return `for ${count === 2 ? "both" : `all ${count}`} batches, by eye`;
            return mL === null ? null : loose(mL, units, first?.plan.scoops);
          }),
        ],
        [
          scaleWeight(Math.round(kgEach / rounding.scaleKg) * rounding.scaleKg, rounding.scaleKg, units),
          isByEye(mix)
            ? "one batch, about; make all now"
            : count === 1
              ? "one batch"
              : "one batch; make all now or as needed",
        ],
      ),
    );
  });
}

/** So many mixes are listed one by one on the page; more stand side by side. */
const LISTED = 2;
const ABREAST = 4;

export const areMany = ({ solution }: View): boolean => solution.mixes.length > LISTED;

/** Many mixes side by side: what goes into each batch, and how many batches. */
export function mixGrid(view: View): Section[] {
  const { solution, name } = view;
  const { units } = solution;
  const ids = [...new Set(solution.mixes.flatMap(({ materials }) => materials.map(({ id }) => id)))];
  const { scaleKg } = solution.rounding;
  return sideBySide(solution.mixes, ABREAST).flatMap((mixes) =>
    section(
      "Into each batch; make all batches now or as needed",
      table(
        ids,
        [
          words("Material", "material", name),
          ...mixes.map((mix) => {
            const { weights } = mix.batches;
            const [bed, ...others] = bedsOf(mix, view);
            return figures<string>(
              bed && others.length === 0 ? `${mix.name}, ${bed}` : mix.name,
              mix.name,
              (id) => weights.find((weight) => weight.id === id)?.kg ?? null,
              (_, id) => {
                const weight = weights.find((one) => one.id === id)!;
                return `${weighWords(weight, mix, view)}${weight.once ? " once for all" : ""}`;
              },
            );
          }),
        ],
        [
          "Batches",
          ...mixes.map((mix) => {
            const { count, kgEach } = mix.batches;
            const whole = isByEye(mix) ? "" : scaleWeight(kgEach, scaleKg, units);
            return whole === "" ? String(count) : `${count} x ${whole}`;
          }),
        ],
      ),
    ),
  );
}

/** At length: the mixes exactly, and what rounding does. */
export function mixDetails({ solution, masses }: View): Section[] {
  const { mixes, rounding, units } = solution;
  const { scaleKg, worstShortfall, worstBreach } = rounding;
  return [
    ...mixes.flatMap((mix) =>
      section(
        mixes.length === 1
          ? "The mix exactly, for the whole season"
          : `Mix ${mix.name} exactly, for the whole season`,
        table(mix.materials, [
          words("Material", "material", (m) => m.name),
          masses("Weight", "weight", (m) => m.kg),
          figures("Share", "share", (m) => m.share, percent),
          masses("From the shed", "stock", (m) => (m.stockKg > 0 ? m.stockKg : null)),
        ]),
        paragraph(`Grade ${gradeOf(mix)} (N-P2O5-K2O, percent).`),
      ),
    ),
    ...section(
      `After rounding the weights to ${scaleWeight(scaleKg, scaleKg, units)}`,
      bullets([
        worstShortfall.nutrient === null || worstShortfall.fraction <= TOLERANCE
          ? "No need is missed."
          : `The worst miss is ${worstShortfall.nutrient}, ${percent(worstShortfall.fraction)} below its need.`,
        worstBreach === null || worstBreach.fraction <= TOLERANCE
          ? ""
          : `The worst excess: ${worstBreach.demand}, ${percent(worstBreach.fraction)} over.`,
      ]),
    ),
  ];
}

/** Percent of N, P2O5 and K2O. */
export function gradeOf({ analysis }: Mix): string {
  return (["N", "P2O5", "K2O"] as const)
    .map((n) => String(Number((100 * (analysis[n] ?? 0)).toFixed(1))))
    .join("-");
}

/** Total weight of the mixes. */
export function mixedKg({ solution }: View): number {
  return sum(solution.mixes.map(({ kg }) => kg));
}

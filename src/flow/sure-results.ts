/** How sure a mix is, as a result: what was asked, how often each need is met, and the season the mix is ready for. */
import { chancesOf, overMaxChances } from "../field/chances.ts";
import type { Amounts } from "../field/delivery.ts";
import { SeasonWork, type WorkedSeasons } from "../field/sureness.ts";
import type { Plan } from "../model.ts";
import type { PlanSureRow } from "../program/sure-rows.ts";
import type { NeedSureness, Shortfall, SureCertificate, Sureness } from "../results/sure.ts";
import type { Season } from "../season/season.ts";
import { layOutSpread } from "../season/spread.ts";
import { type MergedCut, mergedCuts, type ProvenSure, spreadsAt } from "../solver/sure.ts";
import { shortfallOf } from "../words/sure-words.ts";
import { askedNutrients, type SureFound, workAsked } from "./sure.ts";

/** How often each need is met by amounts that nobody asked to be sure of: closed form, no seasons worked. */
export function plainSureness(plan: Plan, season: Season, amounts: Amounts): Sureness {
  const spread = layOutSpread(plan, season);
  return {
    asked: [],
    needs: chancesOf(plan, spread, amounts).map((need) => ({ ...need, pChecked: null })),
    together: null,
    seasons: 0,
    overMax: overMaxChances(plan, spread, amounts),
    certificate: [],
    bound: null,
    gap: null,
  };
}

const SHARED_OUT =
  "How the risk is shared among the needs was searched for: another sharing might cost a little less.";

/** How sure a mix is that was asked to be. */
export function surenessOf(plan: Plan, season: Season, amounts: Amounts, sure: SureFound): Sureness {
  const { proven } = sure;
  const certificate = proven ? certificateOf(sure.rows, proven) : [];
  const end = certificate.find(({ nutrient, day }) => nutrient === "N" && day === plan.seasonDays);
  const level = plan.sure?.each.find(({ nutrient }) => nutrient === end?.nutrient)?.p;
  return {
    ...workedSureness(plan, season, amounts, sure.worked),
    certificate,
    ...(plan.sure?.together
      ? { notes: [SHARED_OUT] }
      : { bound: proven?.check.dualBound ?? null, gap: proven?.check.gap ?? null }),
    plainCost: sure.plainCost,
    ...(end && level !== undefined
      ? { paysAbovePerKg: { nutrient: end.nutrient, perKg: end.price / (1 - level) } }
      : {}),
  };
}

/** How sure a mix is that was found in another way than by its sureness, such as one on whole bags. */
export function surenessFound(plan: Plan, season: Season, amounts: Amounts): Sureness {
  return askedNutrients(plan).size === 0
    ? plainSureness(plan, season, amounts)
    : workedSureness(plan, season, amounts, workAsked(new SeasonWork(plan), amounts));
}

/** What a plan asks to be sure of, and in how many worked seasons it is met. */
function workedSureness(plan: Plan, season: Season, amounts: Amounts, worked: WorkedSeasons): Sureness {
  const plain = plainSureness(plan, season, amounts);
  const met = ({ nutrient, day }: NeedSureness): number | null =>
    worked.needs.find((need) => need.nutrient === nutrient && need.day === day)?.met ?? null;
  return {
    ...plain,
    asked: plan.sure?.each ?? [],
    ...(plan.sure?.together ? { askedTogether: plan.sure.together } : {}),
    needs: plain.needs.map((need) => ({ ...need, pChecked: met(need) })),
    together: worked.together,
    seasons: worked.seasons,
  };
}

/** The sure needs that cost something, each with its price and the season it is ready for. */
function certificateOf(rows: readonly PlanSureRow[], proven: ProvenSure): SureCertificate[] {
  return mergedCuts(rows, proven).flatMap((cut, r) => {
    const row = rows[r]!;
    if (!(cut.price > 0)) return [];
    const { nutrient, day, z } = row;
    return [{ nutrient, day, z, price: cut.price, weakSeason: weakSeason(row, cut, proven.x) }];
  });
}

/** What falls short in the likeliest season that just meets a need, most first. */
function weakSeason(row: PlanSureRow, { u }: MergedCut, x: readonly number[]): Shortfall[] {
  const byWhat = new Map<string, Shortfall>();
  spreadsAt(row.factors, x).forEach((kg, k) => {
    const one = shortfallOf(row.doubts[k]!, row.z * u[k]! * kg);
    const key = `${one.kind} ${one.what}`;
    byWhat.set(key, { ...one, kg: one.kg + (byWhat.get(key)?.kg ?? 0) });
  });
  return [...byWhat.values()].filter(({ kg }) => kg > 0).sort((a, b) => b.kg - a.kg);
}

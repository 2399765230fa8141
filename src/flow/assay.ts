/**
 * The mix a grower already makes: what it contains, and, held against a plan, what it delivers in time, what it costs
 * above the cheapest mix, and the smallest change that would make it meet the plan.
 */

import { analyse, contentOf, grade, LOOK_AFTER_DAYS, layOutSpread } from "../field/assay.ts";
import { type Amounts, deliver, findMisses } from "../field/delivery.ts";
import type { WeighedMix } from "../files/mix.ts";
import type { Amendment, Application, Limit, Plan } from "../model.ts";
import { defined } from "../optional.ts";
import { fail, type Notice, noticesOf, ok, type Result } from "../problem.ts";
import { cheapestPricePerKg } from "../program/build.ts";
import type { Assay, Composition, SpreadPlan } from "../results/assay.ts";
import { layOutSeason, type Season } from "../season/season.ts";
import { MAX_VIOLATION } from "../solver/verify.ts";
import type { TimeLimit } from "../solver/whole.ts";
import { cautionsOf } from "../words/cautions.ts";
import { demandWords, isFloor, isShare } from "../words/demand-words.ts";
import { listed, plainNumber } from "../words/numbers.ts";
import { addAtLeastCost, costAsPlanned, leaveOut, smallestChange } from "./assay-mend.ts";
import { settleCaps, solveBlend } from "./solve-blend.ts";
import { plainSureness } from "./sure.ts";

/**
 * Assays a mix, by itself or against a plan.
 * @returns a problem where a volume is in the way of a weight.
 * @throws UnverifiedError where an answer could not be verified.
 */
export async function assayMix(mix: WeighedMix, against?: Plan, limit?: TimeLimit): Promise<Result<Assay>> {
  const composition = analyse(mix);
  const spread = layOutSpread(mix, composition);
  if (spread === null)
    return fail({
      code: "density-missing",
      message: `${mix.name} is measured by volume, and the density of ${missingDensity(mix)} is not known`,
      hint: "weigh a level cup and add `density` to the amendment, or give weights",
    });
  const compared = against ? await compare(mix, composition, spread, against, limit) : undefined;
  const scene = compared ?? sceneOf(mix, composition, spread);
  const { kg, litres, densityKgPerL, nutrients, cost, saltIndex, parts } = composition;
  const perPlantKg = spread?.perPlantKg ?? null;
  return ok({
    schema: "barrowmix.assay/1",
    mix: mix.name,
    currency: mix.currency,
    units: mix.units,
    kg,
    litres,
    densityKgPerL,
    grade: grade(composition),
    analysis: Object.fromEntries(nutrients.map((n) => [n.nutrient, n.fraction * 100])),
    content: Object.fromEntries(nutrients.map((n) => [n.nutrient, n.kg])),
    release: nutrients.map((n) => ({
      nutrient: n.nutrient,
      parts: n.parts.map((part) => ({ release: part.label, kg: part.kg, share: part.kg / n.kg })),
      availableShare: n.availableShare.map((share, i) => ({ days: LOOK_AFTER_DAYS[i]!, share })),
    })),
    cost,
    costPerKg: cost === null ? null : cost / kg,
    saltIndex,
    amendments: parts.map(({ amendment: { id, name }, ...part }) => ({ id, name, ...part })),
    ...(spread && {
      spread: { ...spread, plants: mix.spread?.plants ?? null, areaM2: mix.spread?.areaM2 ?? null },
      perPlant: {
        g: perPlantKg === null ? null : perPlantKg * 1000,
        mL: perPlantKg === null || densityKgPerL === null ? null : (perPlantKg / densityKgPerL) * 1000,
      },
      applied: contentOf(composition, spread.totalKg),
    }),
    ...(mix.scoops ? { scoops: mix.scoops } : {}),
    ...(compared && { nutrients: compared.nutrients, against: compared.against, sure: compared.sure }),
    cautions: cautionsOf(scene.plan, scene.season, scene.amounts),
    warnings: [...missingWarnings(mix, composition), ...(compared?.warnings ?? [])],
  });
}

function missingDensity(mix: WeighedMix): string {
  const missing = mix.portions.filter(
    ({ amendment, kg, litres }) => kg > 0 && litres === undefined && amendment.densityKgPerL === undefined,
  );
  return missing.map(({ amendment }) => amendment.name).join(", ");
}

function missingWarnings(mix: WeighedMix, { litres, parts }: Composition): Notice[] {
  const priceless = parts.filter((part) => part.cost === null);
  return noticesOf({
    "density-missing":
      litres === null &&
      `No volume is given: the density of ${missingDensity(mix)} is not known. Weigh a level cup and add it.`,
    "price-missing":
      priceless.length > 0 &&
      `No cost is given: ${priceless.map(({ amendment }) => amendment.name).join(", ")} has no price.`,
  });
}

/** A mix on its bed as cautions look at it. */
interface MixScene {
  readonly plan: Plan;
  readonly season: Season;
  readonly amounts: Amounts;
}

/** Long enough for everything that is ever going to be spread; no need is held against it. */
const UNPLANNED_SEASON_DAYS = 120;

/** Without a plan: the first time is planting, further times follow evenly. */
function sceneOf(mix: WeighedMix, composition: Composition, spread: SpreadPlan | undefined): MixScene {
  const times = spread?.times ?? 1;
  const days =
    mix.spread?.days ?? Array.from({ length: times }, (_, k) => (k * UNPLANNED_SEASON_DAYS) / (times + 1));
  const applications = days.map(
    (day, k): Application => ({ name: timeName(k), day, share: 1 / days.length }),
  );
  const { plants, areaM2 } = mix.spread ?? {};
  const plan: Plan = {
    name: mix.name,
    currency: mix.currency,
    units: mix.units,
    amendments: mix.portions.map((portion) => portion.amendment),
    leftOut: [],
    targetName: mix.name,
    seasonDays: Math.max(UNPLANNED_SEASON_DAYS, ...days.map((day) => day + 1)),
    demands: [],
    bed: defined({ plants, areaM2 }),
    credits: [],
    applications,
    blend: "one",
    scaleKg: 0.001,
    limits: [],
    suppliers: [],
    warnings: [],
  };
  const totalKg = spread?.totalKg ?? composition.kg;
  return {
    plan,
    season: layOutSeason(plan),
    amounts: mix.portions.map(({ kg }) =>
      applications.map(({ share }) => (kg / composition.kg) * totalKg * share),
    ),
  };
}

function timeName(k: number): string {
  return k === 0 ? "the first time" : `time ${k + 1}`;
}

interface Compared extends MixScene, Required<Pick<Assay, "against" | "sure" | "nutrients" | "warnings">> {}

/**
 * When the mix is spread in the season of a plan. Days in the file are taken as they are, with equal parts. A number
 * of times that the plan has applications for fills the first so many of them, with equal parts. A mix that says
 * nothing of times, or more of them than the plan, follows the plan's own shares.
 */
function applicationsFor(mix: WeighedMix, plan: Plan): { applications: Application[]; kept: boolean } {
  const { days, times } = mix.spread ?? {};
  if (days)
    return {
      applications: days.map((day) => ({ name: `day ${plainNumber(day)}`, day, share: 1 / days.length })),
      kept: false,
    };
  const planned = plan.applications;
  const shareOf = ({ share }: Application, t: number): number => {
    if (times !== undefined && times <= planned.length) return t < times ? 1 / times : 0;
    return plan.blend === "each" ? 1 / planned.length : share;
  };
  return { applications: planned.map((a, t) => ({ ...a, share: shareOf(a, t) })), kept: true };
}

/** From the mix's own bed to the plan's: by plants where both name them, else by area, else as it is. */
function scaleFor(mix: WeighedMix, plan: Plan): number {
  const { plants, areaM2 } = mix.spread ?? {};
  if (plants !== undefined && plan.bed.plants !== undefined) return plan.bed.plants / plants;
  if (areaM2 !== undefined && plan.bed.areaM2 !== undefined) return plan.bed.areaM2 / areaM2;
  return 1;
}

/**
 * What a mix holds as the plan would buy and count it: its label is the mix's own; offers, shed and what feeds a crop on that
 * soil are the plan's. An offer of the mix counts where the plan has none.
 */
function asPlanned(own: Amendment, planned: Amendment | undefined): Amendment {
  if (!planned) return own;
  const { packs, bulkPricePerKg, supplier, stockKg, effective } = planned;
  if (cheapestPricePerKg(planned) === null) return { ...own, stockKg, ...defined({ effective }) };
  const { bulkPricePerKg: _, supplier: __, ...label } = own;
  return { ...label, packs, stockKg, ...defined({ bulkPricePerKg, supplier, effective }) };
}

/** Both choices in one, the mix's own labels first; limits hold for the mix as a whole. */
function jointPlan(mix: WeighedMix, plan: Plan): Plan {
  const own = new Map(mix.portions.map(({ amendment }) => [amendment.id, amendment]));
  const planned = new Map(plan.amendments.map((a) => [a.id, a]));
  const joint = [
    ...[...own.values()].map((a) => asPlanned(a, planned.get(a.id))),
    ...plan.amendments.filter((a) => !own.has(a.id)),
  ].sort((a, b) => (a.id < b.id ? -1 : 1));
  const { applications, kept } = applicationsFor(mix, plan);
  const limits = kept ? plan.limits : plan.limits.map((limit): Limit => ({ ...limit, notIn: [] }));
  return { ...plan, amendments: joint, applications, blend: "one", limits };
}

async function compare(
  mix: WeighedMix,
  composition: Composition,
  spread: SpreadPlan | undefined,
  asked: Plan,
  limit?: TimeLimit,
): Promise<Compared> {
  // Caps that give way are judged as `solve` settles them for this plan.
  const original = await settleCaps(asked, layOutSeason(asked));
  const scaledBy = scaleFor(mix, original);
  const totalKg = (spread?.totalKg ?? composition.kg) * scaledBy;
  const plan = jointPlan(mix, original);
  // Needs are looked at on the plan's own days, however the mix is spread.
  const season = layOutSeason(original);
  const portion = new Map(
    mix.portions.map(({ amendment, kg }) => [amendment.id, (kg / composition.kg) * totalKg]),
  );
  const wholeKg = plan.amendments.map((a) => portion.get(a.id) ?? 0);
  const amounts = wholeKg.map((kg) => plan.applications.map(({ share }) => kg * share));
  const misses = findMisses(plan, season, amounts).filter((miss) => miss.fraction > MAX_VIOLATION);
  const placed = { plan, season, wholeKg, amounts, misses };
  const cost = costAsPlanned(plan, wholeKg);
  const cheapest = await solveBlend(original, limit);
  const cheapestCost = cheapest.answer.status === "optimal" ? cheapest.answer.check.cost : null;
  return {
    plan,
    season,
    amounts,
    nutrients: deliver(plan, season, amounts),
    sure: plainSureness(plan, season, amounts),
    against: {
      plan: plan.name,
      target: plan.targetName,
      scaledBy,
      applications: plan.applications
        .map(({ name, day, share }) => ({ name, day, kg: totalKg * share }))
        .filter((application) => application.kg > 0),
      misses: misses.map(({ tag, by, fraction }) => ({
        demand: demandWords(plan, tag),
        side: isFloor(tag) ? "short" : "over",
        unit: isShare(tag) ? "share" : "kg",
        by,
        fraction,
      })),
      cost,
      cheapestCost,
      difference: cost === null || cheapestCost === null ? null : cost - cheapestCost,
      leaveOut: await leaveOut(placed),
      ...(await addAtLeastCost(placed, original)),
      change: await smallestChange(placed, original),
    },
    warnings: [
      ...compareWarnings(mix, original, scaledBy),
      ...original.warnings.slice(asked.warnings.length),
    ],
  };
}

function compareWarnings(mix: WeighedMix, plan: Plan, scaledBy: number): Notice[] {
  const { plants, times, days } = mix.spread ?? {};
  const planned = plan.applications.length;
  const differing = mix.portions.flatMap(({ amendment }) => {
    const theirs = plan.amendments.find(({ id }) => id === amendment.id);
    const [own, other] = [amendment, theirs].map((a) => (a ? cheapestPricePerKg(a) : null));
    const differ = own != null && other != null && Math.abs(own - other) > 1e-9 * Math.max(own, other);
    return differ ? [amendment.name] : [];
  });
  return noticesOf({
    "bed-differs":
      Math.abs(scaledBy - 1) > 1e-9 &&
      (plants !== undefined && plan.bed.plants !== undefined
        ? `The mix is for ${plainNumber(plants)} plants and the plan for ${plainNumber(plan.bed.plants)}; the comparison gives each plant of the plan what the mix gives.`
        : "The mix is for another area than the plan; the comparison spreads it at the same rate."),
    "times-differ":
      times !== undefined &&
      !days &&
      times > planned &&
      `The mix is spread ${times} times and the plan has ${planned === 1 ? "one application" : `${planned} applications`}; the whole is assumed to follow the plan's. Give \`spread.days\` to say when.`,
    "prices-differ":
      differing.length > 0 &&
      `The mix and the plan have different prices for ${listed(differing)}; what is held against the plan is at the plan's prices.`,
    "spread-assumed":
      mix.spread === undefined &&
      "The mix does not say how it is spread; its whole weight is assumed to go on the plan's bed over the season.",
  });
}

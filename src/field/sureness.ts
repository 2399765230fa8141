/**
 * In how many of 4,096 worked seasons given amounts meet each need.
 *
 * Every season draws each analysis, each release, the soil temperature, each round of spreading and each credit, and
 * multiplies them out as they are in the field; nothing is made linear, and nothing is taken from what found the
 * amounts. The seasons are always the same ones: points of a lattice, each coordinate through the inverse normal law.
 */
import type { Plan } from "../model.ts";
import type { Nutrient } from "../nutrients.ts";
import { curveOf, layOutSeason } from "../season/season.ts";
import {
  analysisSpread,
  type Counted,
  commonSpread,
  creditSpread,
  type NeedOn,
  needsOf,
  ownReleaseSpread,
  spreadingSpread,
  temperatureSpread,
  warmerBy,
} from "../season/spread.ts";
import { latticePoints, normalQuantile } from "../solver/normal.ts";
import type { Amounts } from "./delivery.ts";

const WORKED_SEASONS = 4096;

/** Soil temperatures for which releases are worked out, in standard deviations; those between are read off a line. */
const STEPS_PER_DEVIATION = 2;
const MOST_DEVIATIONS = 4;

/** A need and the share of the worked seasons that meet it. */
interface WorkedNeed {
  readonly nutrient: Nutrient;
  readonly day: number;
  readonly met: number;
}

export interface WorkedSeasons {
  readonly needs: readonly WorkedNeed[];
  /** Share of seasons that meet every need asked about. */
  readonly together: number;
  readonly seasons: number;
}

/** What one amendment, or one credit, brings to one need. */
interface Source {
  /** kg of content by round of spreading; a credit has one. */
  readonly contentKg: readonly number[];
  /** Share available by round and soil temperature, coldest first. */
  readonly share: readonly Float64Array[];
  /** Columns of the draw, -1: none. */
  readonly analysis: number;
  readonly ownRelease: number;
  readonly credit: number;
  readonly rounds: readonly number[];
  readonly analysisCv: number;
  readonly ownReleaseCv: number;
  readonly commonCv: number;
  readonly creditCv: number;
}

/** Hands out a column of the draw for each doubt, in the order they are first asked for. */
class Columns {
  readonly #at = new Map<string, number>();
  of(key: string): number {
    const known = this.#at.get(key);
    if (known !== undefined) return known;
    this.#at.set(key, this.#at.size);
    return this.#at.size - 1;
  }
  get count(): number {
    return this.#at.size;
  }
}

/**
 * Works the seasons.
 * @param together whether a need counts for `together`.
 * @param draws where given, numbers of the standard normal law in place of the lattice: so many per season, in turn.
 */
export function workSeasons(
  plan: Plan,
  amounts: Amounts,
  together: (need: NeedOn) => boolean = () => true,
  seasons: number = WORKED_SEASONS,
  draws?: () => number,
): WorkedSeasons {
  const needs = needsOf(plan, layOutSeason(plan));
  const columns = new Columns();
  const releases = columns.of("releases");
  const weather = columns.of("weather");
  const temperatures = temperatureSeasons(plan);
  const sources = needs.map((need) => sourcesOf(plan, amounts, need, temperatures, columns));
  const spreading = spreadingSpread(plan);
  const asked = needs.map(together);
  const met = new Float64Array(needs.length);
  let all = 0;
  const width = columns.count;
  const points = draws ? null : latticePoints(seasons, width);
  const xi = new Float64Array(width);
  for (let j = 0; j < seasons; j++) {
    for (let k = 0; k < width; k++)
      xi[k] = points ? normalQuantile(points[j * width + k]!) : (draws as () => number)();
    let every = true;
    for (let r = 0; r < needs.length; r++) {
      let supply = 0;
      for (const source of sources[r]!) supply += broughtKg(source, xi, releases, xi[weather]!, spreading);
      if (supply >= needs[r]!.needKg * (1 - 1e-9)) met[r]! += 1;
      else if (asked[r]) every = false;
    }
    if (every) all += 1;
  }
  return {
    needs: needs.map(({ nutrient, day }, r) => ({ nutrient, day, met: met[r]! / seasons })),
    together: all / seasons,
    seasons,
  };
}

/** What a source brings in one season. */
function broughtKg(
  source: Source,
  xi: Float64Array,
  releases: number,
  warmth: number,
  spreading: number,
): number {
  const { contentKg, share, rounds } = source;
  const release =
    (1 + source.commonCv * xi[releases]!) *
    (source.ownRelease < 0 ? 1 : 1 + source.ownReleaseCv * xi[source.ownRelease]!);
  const nodes = share[0]!.length;
  const at = Math.min(Math.max((warmth + MOST_DEVIATIONS) * STEPS_PER_DEVIATION, 0), nodes - 1);
  const node = Math.min(Math.floor(at), Math.max(0, nodes - 2));
  let kg = 0;
  for (let t = 0; t < contentKg.length; t++) {
    const table = share[t]!;
    const low = table[node]!;
    const given = nodes === 1 ? low : low + (at - node) * (table[node + 1]! - low);
    // What is released is never more than there is; what ties nitrogen up can only tie up more or less of it.
    const released = given * release;
    const available = given > 0 ? Math.min(Math.max(released, 0), 1) : Math.min(released, 0);
    const round = rounds[t]!;
    kg += contentKg[t]! * available * (round < 0 ? 1 : Math.max(0, 1 + spreading * xi[round]!));
  }
  if (source.analysis >= 0) kg *= Math.max(0, 1 + source.analysisCv * xi[source.analysis]!);
  if (source.credit >= 0) kg *= Math.max(0, 1 + source.creditCv * xi[source.credit]!);
  return kg;
}

/** The plan at each soil temperature; one where temperature is not given or does not vary. */
function temperatureSeasons(plan: Plan): Plan[] {
  const sd = temperatureSpread(plan);
  if (sd === 0 || plan.soilTemperatureC === undefined) return [plan];
  const nodes = 2 * MOST_DEVIATIONS * STEPS_PER_DEVIATION + 1;
  return Array.from({ length: nodes }, (_, k) =>
    warmerBy(plan, sd * (k / STEPS_PER_DEVIATION - MOST_DEVIATIONS)),
  );
}

function sourcesOf(
  plan: Plan,
  amounts: Amounts,
  need: { readonly nutrient: Nutrient; readonly day: number; readonly counted: Counted },
  temperatures: readonly Plan[],
  columns: Columns,
): Source[] {
  const { nutrient, day } = need;
  const applied = need.counted === "applied";
  const seasons = temperatures.map((one) => layOutSeason({ ...one, credits: [] }));
  const found: Source[] = [];
  plan.amendments.forEach((amendment, a) => {
    const content = amendment.analysis[nutrient] ?? 0;
    const spread = amounts[a]!;
    if (content === 0 || !spread.some((kg) => kg > 0)) return;
    const curve = curveOf(amendment, nutrient);
    const ownReleaseCv = applied ? 0 : ownReleaseSpread(plan, curve);
    const used = plan.applications.flatMap((application, t) => (spread[t]! > 0 ? [{ application, t }] : []));
    found.push({
      contentKg: used.map(({ t }) => spread[t]! * content),
      share: used.map(({ application }) =>
        applied
          ? Float64Array.of(amendment.effective?.[nutrient] ?? 1)
          : Float64Array.from(seasons, (season) =>
              season.available(amendment, nutrient, application.day, day, application.placement),
            ),
      ),
      rounds: used.map(({ t }) => columns.of(`round ${t}`)),
      analysis: columns.of(`analysis ${amendment.id} ${nutrient}`),
      analysisCv: analysisSpread(amendment, nutrient),
      ownRelease: ownReleaseCv > 0 ? columns.of(`release ${amendment.id} ${nutrient}`) : -1,
      ownReleaseCv,
      commonCv: applied ? 0 : commonSpread(plan, curve),
      credit: -1,
      creditCv: 0,
    });
  });
  for (const credit of plan.credits) {
    const content = credit.contentKg[nutrient] ?? 0;
    if (content === 0) continue;
    const alone = temperatures.map((one) => layOutSeason({ ...one, credits: [credit] }));
    found.push({
      contentKg: [content],
      share: [
        applied
          ? Float64Array.of(1)
          : Float64Array.from(alone, (season) => season.creditKg(nutrient, day) / content),
      ],
      rounds: [-1],
      analysis: -1,
      analysisCv: 0,
      ownRelease: -1,
      ownReleaseCv: 0,
      commonCv: applied ? 0 : commonSpread(plan, credit.release),
      credit: columns.of(`credit ${credit.from}`),
      creditCv: creditSpread(credit),
    });
  }
  return found;
}

import { describe, expect, it } from "vitest";
import { CAUTION_THRESHOLDS } from "../../src/files/caution-thresholds.ts";
import { layOutSeason } from "../../src/season/season.ts";
import { CAUTIONS } from "../../src/words/caution-table.ts";
import { cautionsOf } from "../../src/words/cautions.ts";
import { weighed as solvePlan } from "../helpers/answers.ts";
import { loadTree } from "../helpers/load-tree.ts";

interface Case {
  /** Fields of the one amendment, `thing`, beside its name and pack. */
  readonly amendment?: Record<string, unknown>;
  readonly more?: Record<string, Record<string, unknown>>;
  readonly plan?: Record<string, unknown>;
  readonly target?: Record<string, unknown>;
  /** kg of each amendment in id order, by application. */
  readonly kg?: number[][];
}

/** One granulated salt, listed, at planting, on a hectare of 20 000 plants: nothing to say about it. */
const CLEAN = {
  analysis: { K2O: 22, Mg: 11, S: 22 },
  kind: "salt",
  organic: "listed",
  salt_index: 43,
  release: "at-once",
};

function cautions({ amendment, more = {}, plan = {}, target = {}, kg = [[100]] }: Case) {
  const entry = (fields: Record<string, unknown>) => ({
    packs: [{ size: "1 kg", price: 1 }],
    ...fields,
  });
  const loaded = loadTree({
    plan: "Caution",
    units: "metric",
    amendments: {
      thing: entry({ name: "The thing", ...CLEAN, ...amendment }),
      ...Object.fromEntries(Object.entries(more).map(([id, fields]) => [id, entry({ ...CLEAN, ...fields })])),
    },
    target: {
      target: "Crop",
      season: "100 days",
      need: { per: "bed", N: "100 kg" },
      ...target,
    },
    bed: { plants: 20000, area: "1 ha" },
    ...plan,
  });
  return cautionsOf(loaded, layOutSeason(loaded), kg);
}
const codes = (input: Case) => cautions(input).map((caution) => caution.code);

const twice = [
  { name: "planting", day: 0 },
  { name: "later", day: 50 },
];
const LB_ACRE = 1.120851; // kg/ha, NIST SP 811

/** For each caution a plan that calls for it, and a plan like it that does not. */
const CASES: Readonly<Record<string, { fires: Case; silent: Case }>> = {
  // 7 CFR 205.203(c)(1): 120 days where the crop touches the soil, 90 where it does not; on the day itself is enough.
  "raw-manure-interval": {
    fires: {
      amendment: { kind: "manure-raw" },
      plan: { harvest: { first: "day 119", touches_soil: true } },
    },
    silent: {
      amendment: { kind: "manure-raw" },
      plan: { harvest: { first: "day 120", touches_soil: true } },
    },
  },
  "raw-manure-no-harvest": {
    fires: { amendment: { kind: "manure-raw" } },
    silent: {
      amendment: { kind: "manure-raw" },
      plan: { harvest: { first: "day 90", touches_soil: false } },
    },
  },
  // Diaz-Perez et al. 2017, HortScience 52:138: 3 g N per kg; a planting hole of 1 kg is a judgement.
  "ammonia-injury": {
    fires: {
      amendment: { kind: "animal", analysis: { N: 13 } },
      plan: { bed: { plants: 100 } },
      kg: [[0.31 / 0.13]],
    },
    silent: {
      amendment: { kind: "animal", analysis: { N: 13 } },
      plan: { bed: { plants: 100 } },
      kg: [[0.29 / 0.13]],
    },
  },
  // Common practice, no source: 15 g of sodium nitrate or its equal per plant.
  "salt-at-planting": {
    fires: {
      amendment: { salt_index: 100 },
      plan: { bed: { plants: 100 } },
      kg: [[1.6]],
    },
    silent: {
      amendment: { salt_index: 100 },
      plan: { bed: { plants: 100 } },
      kg: [[1.4]],
    },
  },
  // From memory: 2 lb/acre is the most of the ordinary range.
  boron: {
    fires: {
      amendment: { analysis: { B: 11 } },
      kg: [[(2.1 * LB_ACRE) / 0.11]],
    },
    silent: {
      amendment: { analysis: { B: 11 } },
      kg: [[(1.9 * LB_ACRE) / 0.11]],
    },
  },
  // Wisconsin A2527 (seen): stop at 30 lb/acre of copper in all; a tenth of that in a year is a judgement.
  copper: {
    fires: { amendment: { analysis: { Cu: 25 } }, kg: [[(3.1 * LB_ACRE) / 0.25]] },
    silent: { amendment: { analysis: { Cu: 25 } }, kg: [[(2.9 * LB_ACRE) / 0.25]] },
  },
  // 40 CFR 503.13, from memory: 140 kg/ha of Zn in a year.
  zinc: {
    fires: { amendment: { analysis: { Zn: 35 } }, kg: [[141 / 0.35]] },
    silent: { amendment: { analysis: { Zn: 35 } }, kg: [[139 / 0.35]] },
  },
  // Common practice, no source.
  sodium: {
    fires: { amendment: { analysis: { Na: 10 } }, kg: [[1010]] },
    silent: { amendment: { analysis: { Na: 10 } }, kg: [[990]] },
  },
  chloride: {
    fires: { amendment: { analysis: { K2O: 60, Cl: 47 } }, kg: [[160 / 0.47]] },
    silent: {
      amendment: { analysis: { K2O: 60, Cl: 47 } },
      kg: [[140 / 0.47]],
    },
  },
  "area-unknown": {
    fires: {
      amendment: { analysis: { B: 11 } },
      plan: { bed: { plants: 20000 } },
    },
    silent: { amendment: { analysis: { B: 11 } }, kg: [[1]] },
  },
  // Common practice, no source: half of the season's need.
  "nitrogen-ahead": {
    fires: {
      amendment: { analysis: { N: 10 } },
      target: { uptake: { N: { 50: "10%", 100: "100%" } } },
      kg: [[520]],
    },
    silent: {
      amendment: { analysis: { N: 10 } },
      target: { uptake: { N: { 50: "10%", 100: "100%" } } },
      kg: [[480]],
    },
  },
  "heavy-rain": {
    fires: {
      amendment: { analysis: { N: 10 } },
      kg: [[52 * 10 * LB_ACRE + 20]],
    },
    silent: { amendment: { analysis: { N: 10 } }, kg: [[48 * 10 * LB_ACRE]] },
  },
  // Common practice, no source: a twentieth. Half of 10 % N is free by day 50, when 80 of 100 kg are needed: 1600 kg meet it.
  "short-between": {
    fires: {
      amendment: { analysis: { N: 10 }, release: { N: { points: { 0: "0%", 100: "100%" } } } },
      target: { uptake: { N: { 50: "80%", 100: "100%" } } },
      kg: [[0.94 * 1600]],
    },
    silent: {
      amendment: { analysis: { N: 10 }, release: { N: { points: { 0: "0%", 100: "100%" } } } },
      target: { uptake: { N: { 50: "80%", 100: "100%" } } },
      kg: [[0.96 * 1600]],
    },
  },
  // Council Directive 91/676/EEC, Annex III, from memory: 170 kg/ha. Of 10 % N a fifth is released here, so 8 % stays.
  "nitrogen-left": {
    fires: {
      amendment: { analysis: { N: 10 }, release: { N: { points: { 0: "0%", 100: "20%" } } } },
      kg: [[171 / 0.08]],
    },
    silent: {
      amendment: { analysis: { N: 10 }, release: { N: { points: { 0: "0%", 100: "20%" } } } },
      kg: [[169 / 0.08]],
    },
  },
  // Above removal only where the soil is poor (New England Vegetable Management Guide); the factor of two is a judgement.
  "phosphorus-above-need": {
    fires: {
      amendment: { analysis: { P2O5: 10 } },
      target: { need: { per: "bed", P2O5: "20 kg" } },
      kg: [[401]],
    },
    silent: {
      amendment: { analysis: { P2O5: 10 } },
      target: { need: { per: "bed", P2O5: "20 kg" } },
      kg: [[400]],
    },
  },
  "phosphate-needs-acid": {
    fires: {
      amendment: { name: "Bone meal", analysis: { P2O5: 10 } },
      target: { need: { per: "bed", P2O5: "20 kg" } },
    },
    silent: {
      amendment: { name: "Bone meal", analysis: { P2O5: 10 } },
      target: { need: { per: "bed", P2O5: "20 kg" } },
      plan: { soil: { pH: 6.4 } },
    },
  },
  // Stoichiometry: 100.09 / 32.06 = 3.12 lb of limestone for 1 lb of sulfur; the limit is common practice.
  acidifying: {
    fires: { amendment: { analysis: { S: 90 } }, kg: [[510 / (0.9 * 3.122)]] },
    silent: { amendment: { analysis: { S: 90 } }, kg: [[490 / (0.9 * 3.122)]] },
  },
  "acidity-wrong-way": {
    fires: { amendment: { analysis: { Ca: 36 }, cce: "90%" }, plan: { soil: { pH: 7.2 } } },
    silent: { amendment: { analysis: { Ca: 36 }, cce: "90%" }, plan: { soil: { pH: 6.2 } } },
  },
  // 10 to 20 lb per 1000 sq ft a year (extension text of 1991): 20 lb are 976 kg/ha.
  "wood-ash": {
    fires: { amendment: { name: "Wood ash", analysis: { K2O: 5 } }, kg: [[980]] },
    silent: { amendment: { name: "Wood ash", analysis: { K2O: 5 } }, kg: [[970]] },
  },
  "salt-gathers": {
    fires: { plan: { cover: "tunnel" } },
    silent: { plan: { cover: "open" } },
  },
  "surface-loss": {
    fires: {
      amendment: { kind: "manure-processed" },
      plan: { applications: [{ name: "top", day: 0, placement: "surface" }] },
    },
    silent: {
      amendment: { kind: "manure-processed" },
      plan: { applications: [{ name: "in", day: 0, placement: "broadcast" }] },
    },
  },
  // 20 tons of tomatoes remove about 40 lb P2O5 (from memory).
  "phosphorus-without-need": {
    fires: { amendment: { analysis: { P2O5: 10 } }, kg: [[41 * 10 * LB_ACRE]] },
    silent: {
      amendment: { analysis: { P2O5: 10 } },
      kg: [[39 * 10 * LB_ACRE]],
    },
  },
  // 7 CFR 205.602, from memory: at most 20 % of the crop's nitrogen.
  "sodium-nitrate-share": {
    fires: { amendment: { analysis: { N: 16, Na: 26 } }, kg: [[21 / 0.16]] },
    silent: { amendment: { analysis: { N: 16, Na: 26 } }, kg: [[19 / 0.16]] },
  },
  // Common practice, no source: 500 kg/ha of limestone.
  liming: {
    fires: {
      amendment: { analysis: { Ca: 36 }, cce: "90%" },
      kg: [[510 / 0.9]],
    },
    silent: {
      amendment: { analysis: { Ca: 36 }, cce: "90%" },
      kg: [[490 / 0.9]],
    },
  },
  "threshold-raised": {
    fires: { plan: { thresholds: { boron: "3 lb/acre" } } },
    silent: { plan: { thresholds: { boron: "1 lb/acre" } } },
  },
  // At 15 % a round, a judgement: one plant in ten lies 1.28 deviations below the mean or more.
  "plants-differ": {
    fires: { plan: { sure: { N: "80%" } } },
    silent: {},
  },
  "organic-prohibited": {
    fires: { amendment: { organic: "prohibited" } },
    silent: {},
  },
  "organic-restricted": {
    fires: { amendment: { organic: "restricted" } },
    silent: {},
  },
  "organic-unknown": {
    fires: { amendment: { organic: "unknown" } },
    silent: {},
  },
  "manure-process": {
    fires: { amendment: { kind: "manure-processed" } },
    silent: {
      amendment: { kind: "manure-raw" },
      plan: { harvest: { first: "day 130" } },
    },
  },
  "keep-off-plants": {
    fires: { plan: { applications: twice }, kg: [[50, 50]] },
    silent: { plan: { applications: twice, blend: "each" }, kg: [[50, 0]] },
  },
  "placement-unknown": {
    fires: {
      amendment: { kind: "animal", analysis: { N: 13 } },
      plan: { bed: { area: "1 ha", rows: 2, row_length: "50 m" } },
    },
    silent: {
      amendment: { kind: "animal", analysis: { N: 13 } },
      plan: {
        bed: { area: "1 ha", rows: 2, row_length: "50 m" },
        applications: [{ name: "planting", day: 0, placement: "broadcast" }],
      },
    },
  },
  "manure-pathogens": {
    fires: { amendment: { kind: "manure-raw" } },
    silent: { amendment: { kind: "manure-processed" } },
  },
  "pets-poison": {
    fires: { amendment: { name: "Cocoa shell", kind: "plant" } },
    silent: { amendment: { name: "Alfalfa meal", kind: "plant" } },
  },
  "gluten-seeds": {
    fires: { amendment: { name: "Corn gluten meal", kind: "plant" } },
    silent: { amendment: { name: "Corn meal", kind: "plant" } },
  },
  "herbicide-carry-over": {
    fires: { amendment: { name: "Horse compost", kind: "compost" } },
    silent: { amendment: { name: "Poultry pellets", kind: "manure-processed" } },
  },
  // FAO 29 (memory): tomatoes bear 2.5 dS/m and lose 9.9 % for each one more.
  "soil-salt": {
    fires: { plan: { soil: { EC: "3.1 dS/m" } }, target: { target: "Tomato" } },
    silent: { plan: { soil: { EC: "2.4 dS/m" } }, target: { target: "Tomato" } },
  },
  // State fertilizer officials: 10 ppm of cadmium for each percent of P2O5.
  cadmium: {
    fires: { amendment: { name: "Rock phosphate", analysis: { P2O5: 25 } } },
    silent: { amendment: { name: "Bone meal", analysis: { P2O5: 15 } } },
  },
  "applied-unavailable": {
    fires: {
      amendment: { analysis: { P2O5: 20 }, release: { at_once: "24%", later: "0%", half_life: "1 day" } },
      target: { need: { per: "bed", P2O5: { min: "20 kg", counts: "applied" } } },
    },
    silent: {
      amendment: { analysis: { P2O5: 20 }, release: { at_once: "26%", later: "0%", half_life: "1 day" } },
      target: { need: { per: "bed", P2O5: { min: "20 kg", counts: "applied" } } },
    },
  },
  "iron-fixed": {
    fires: { amendment: { analysis: { Fe: 20, S: 11 } }, plan: { soil: { pH: 7.6 } } },
    silent: { amendment: { analysis: { Fe: 20, S: 11 } }, plan: { soil: { pH: 7.5 } } },
  },
  "under-plastic": {
    fires: { plan: { cover: "plastic", applications: [{ day: 20 }] } },
    silent: { plan: { cover: "plastic" } },
  },
  "frozen-ground": {
    fires: { plan: { soil_temperature: { 0: "0 C", 30: "10 C" } } },
    silent: { plan: { soil_temperature: { 0: "3 C", 30: "10 C" } } },
  },
  "autumn-nitrogen": {
    fires: {
      amendment: { analysis: { N: 20 } },
      target: { season: "240 days", uptake: { N: { 150: "15%", 240: "100%" } } },
      kg: [[500]],
    },
    silent: {
      amendment: { analysis: { N: 20 } },
      target: { season: "240 days", uptake: { N: { 150: "15%", 240: "100%" } } },
      kg: [[200]],
    },
  },
  "surface-left": {
    fires: {
      amendment: { kind: "animal", analysis: { N: 13 } },
      plan: { applications: [{ day: 0, placement: "surface" }] },
    },
    silent: {
      amendment: { kind: "animal", analysis: { N: 13 } },
      plan: { applications: [{ day: 0, placement: "broadcast" }] },
    },
  },
  silica: {
    fires: { amendment: { name: "Greensand", kind: "mineral" } },
    silent: { amendment: { name: "Gypsum", kind: "mineral" } },
  },
  dust: {
    fires: { amendment: { kind: "plant" } },
    silent: { amendment: { kind: "salt" } },
  },
  pets: {
    fires: { amendment: { kind: "animal" } },
    silent: { amendment: { kind: "plant" } },
  },
  "not-for-sale": {
    fires: { more: { zinc: { name: "Another" } }, kg: [[50], [50]] },
    silent: { more: { zinc: { name: "Another" } }, kg: [[100], [0]] },
  },
};

describe("cautions", () => {
  it("has nothing to say about a clean plan, not even a last word", () => {
    expect(codes({})).toEqual([]);
  });

  it.each(Object.entries(CASES))("%s speaks up where it should", (code, { fires }) => {
    const found = cautions(fires).find((caution) => caution.code === code);
    expect(found).toBeDefined();
    expect(found!.text).toMatch(/^[A-Z0-9].*[.]$/);
    expect(found!.text).not.toMatch(/NaN|undefined|null|Infinity/);
    expect(found!.source).toBeTruthy();
    expect(found!.defersTo).toBeTruthy();
  });

  it.each(Object.entries(CASES))("%s keeps quiet where it should", (code, { silent }) => {
    expect(codes(silent)).not.toContain(code);
  });

  it("has a plan for every caution that the code knows", () => {
    expect(new Set([...Object.keys(CASES), "last-word"])).toEqual(new Set(Object.keys(CAUTIONS)));
  });

  it("ranks them, the gravest first, and what holds for every mix last", () => {
    const ranks = cautions({
      amendment: { kind: "animal", analysis: { N: 13 }, organic: "unknown" },
      plan: { bed: { plants: 100 } },
      kg: [[50]],
    }).map((caution) => caution.rank!);
    expect(ranks).toEqual([...ranks].sort((a, b) => a - b));
    expect(ranks.at(-1)).toBe(5);
    expect(ranks.every((rank) => rank >= 1)).toBe(true);
  });

  describe("what burns, by where it is put", () => {
    // 785 g of pellets of 4 % nitrogen for each of 100 plants: 31 g of nitrogen, ten times what does no harm in 1 kg of soil.
    const pellets = (placement: string, amendment: Record<string, unknown> = {}): Case => ({
      amendment: {
        name: "Pellets",
        kind: "manure-processed",
        analysis: { N: 4, P2O5: 3, K2O: 2 },
        salt_index: undefined,
        ...amendment,
      },
      plan: {
        bed: { plants: 100, area: "200 m2", rows: 2, row_length: "50 m" },
        applications: [{ name: "planting", day: 0, placement }],
      },
      kg: [[78.5]],
    });
    it("speaks up in a planting hole and in a band, not where it is spread wide", () => {
      for (const code of ["ammonia-injury", "salt-at-planting"]) {
        expect(codes(pellets("hole")), code).toContain(code);
        expect(codes({ ...pellets("broadcast"), kg: [[40]] }), code).not.toContain(code);
        expect(codes({ ...pellets("surface"), kg: [[40]] }), code).not.toContain(code);
      }
      // 7,089 lb/acre of pellets is 0.795 kg/m2: a salt that needs a word, though no index of it is known.
      expect(codes({ ...pellets("broadcast"), kg: [[0.795 * 200]] })).toContain("salt-at-planting");
      expect(codes(pellets("band"))).toContain("ammonia-injury");
    });
    it("judges urea and guano, and no nitrate and no compost", () => {
      const of = (fields: Record<string, unknown>) =>
        codes({ ...pellets("hole", fields), kg: [[10]] }).includes("ammonia-injury");
      expect(of({ name: "Urea", kind: "salt", analysis: { N: 46 } })).toBe(true);
      expect(of({ name: "Seabird guano", kind: undefined, analysis: { N: 12 } })).toBe(true);
      expect(of({ name: "Chilean nitrate", kind: "salt", analysis: { N: 16 } })).toBe(false);
      expect(of({ name: "Compost", kind: "compost", analysis: { N: 7 } })).toBe(false);
    });
    it("speaks up from three weeks before planting on, and of every dressing on growing plants", () => {
      // Contract, section 16; 12 g of nitrogen of blood meal a plant in the hole.
      const blood = { name: "Blood meal", kind: "animal", analysis: { N: 12 } };
      const on = (day: number, placement: string): boolean => {
        const { plan: bed, ...rest } = pellets(placement, blood);
        const plan = { ...bed, applications: [{ name: "round", day, placement }] };
        return codes({ ...rest, plan, kg: [[10]] }).includes("ammonia-injury");
      };
      expect([-22, -21, -14, -9, -8, -7, 0, 7, 14, 21, 60].map((day) => on(day, "hole"))).toEqual([
        false,
        ...Array.from({ length: 10 }, () => true),
      ]);
      expect([-22, -21, 30].map((day) => on(day, "band"))).toEqual([false, true, true]);
      expect(on(0, "broadcast")).toBe(false);
    });
    it("asks where a round in rows goes, and does not take it for broadcast", () => {
      const { plan: bed, ...rest } = pellets("band");
      const asked = (applications: object[]) => codes({ ...rest, plan: { ...bed, applications } });
      expect(asked([{ name: "planting", day: 0 }])).toContain("placement-unknown");
      expect(asked([{ name: "planting", day: 0, placement: "broadcast" }])).not.toContain(
        "placement-unknown",
      );
      expect(codes({ ...rest, plan: { ...bed, applications: [{ day: 0 }] }, kg: [[1]] })).not.toContain(
        "placement-unknown",
      );
    });
  });

  it("judges by the crop whether its harvest touches the soil, whatever the flag says", () => {
    const on = (crop: string) =>
      codes({
        amendment: { kind: "manure-raw" },
        target: { target: crop },
        plan: { harvest: { first: "day 100", touches_soil: false } },
      }).includes("raw-manure-interval");
    // 7 CFR 205.203(c)(1): 120 days for roots and leaves, 90 for what hangs.
    expect(["Carrot", "Lettuce, heading", "Garlic"].map(on)).toEqual([true, true, true]);
    expect(["Tomato, staked", "Pepper", "Sweet corn"].map(on)).toEqual([false, false, false]);
  });

  it("says how much cadmium phosphate rock may bring", () => {
    // 100 kg with 25 % P2O5 at 250 ppm: 25 g.
    const [found] = cautions({ amendment: { name: "Rock phosphate", analysis: { P2O5: 25 } } }).filter(
      ({ code }) => code === "cadmium",
    );
    expect(found!.text).toContain("up to 25.0 g of cadmium");
  });

  it("hears of silica in an id or in a name, never across the two", () => {
    const of = (name: string, kind = "mineral") => codes({ amendment: { name, kind } }).includes("silica");
    expect(of("Rock phosphate, ground")).toBe(true);
    expect(of("Granite fish meal", "animal")).toBe(false);
  });

  it("says what share of a yield a salty soil leaves", () => {
    // FAO 29 (memory): 100 - b (ECe - a) with a 2.5, b 9.9 for tomato; 1.0, 19 bean; 1.3, 13 lettuce; 1.5, 14 pepper.
    const share = (crop: string, EC: string) =>
      cautions({ target: { target: crop }, plan: { soil: { EC } } }).find(({ code }) => code === "soil-salt")!
        .text;
    expect(share("Tomato", "3.1 dS/m")).toContain("about 94.1%");
    expect(share("Snap bean", "2")).toContain("about 81.0%");
    expect(share("Lettuce", "3.3 mS/cm")).toContain("about 74.0%");
    expect(share("Pepper", "2.5 dS/m")).toContain("about 86.0%");
    expect(share("Pepper", "2.5 dS/m")).toMatch(/This mix adds salt like .*kg\/ha/);
  });

  it("takes boron by crop", () => {
    const on = (crop: string, lb: number) =>
      codes({
        amendment: { analysis: { B: 11 } },
        target: { target: crop },
        kg: [[(lb * LB_ACRE) / 0.11]],
      }).includes("boron");
    // Delaware 2012: 1.5 to 3 lb/acre on cole crops; Prince Edward Island: beans fall at 4.4 kg/ha.
    expect(on("Broccoli", 2.9)).toBe(false);
    expect(on("Broccoli", 3.1)).toBe(true);
    expect(on("Snap bean", 0.4)).toBe(false);
    expect(on("Snap bean", 0.6)).toBe(true);
    expect(on("Tomato", 1.9)).toBe(false);
  });

  it("says nothing of phosphorus on poor soil, and speaks at any surplus on rich soil", () => {
    const on = (rating: string, kg: number) =>
      codes({
        amendment: { analysis: { P2O5: 10 } },
        target: { need: { per: "bed", P2O5: "20 kg" } },
        plan: { soil: { P_rating: rating } },
        kg: [[kg]],
      }).includes("phosphorus-above-need");
    expect(on("low", 1000)).toBe(false);
    expect(on("optimum", 390)).toBe(false);
    expect(on("optimum", 410)).toBe(true);
    expect(on("very high", 210)).toBe(true);
    expect(on("very high", 200)).toBe(false);
  });

  it("says nothing of heavy rain under cover", () => {
    const rain: Case = { amendment: { analysis: { N: 10 } }, kg: [[52 * 10 * LB_ACRE + 20]] };
    expect(codes(rain)).toContain("heavy-rain");
    expect(codes({ ...rain, plan: { cover: "plastic" } })).not.toContain("heavy-rain");
  });

  it("counts days to the harvest exactly", () => {
    const at = (day: number, touches: boolean, first: number) =>
      codes({
        amendment: { kind: "manure-raw" },
        plan: {
          harvest: { first, touches_soil: touches },
          applications: [{ name: "early", day }],
        },
      }).includes("raw-manure-interval");
    // 7 CFR 205.203(c)(1).
    expect(at(-50, true, 70)).toBe(false);
    expect(at(-49, true, 70)).toBe(true);
    expect(at(-20, false, 70)).toBe(false);
    expect(at(-19, false, 70)).toBe(true);
    expect(at(80, false, 70)).toBe(true);
  });

  it("says from which day the harvest may begin", () => {
    const [caution] = cautions({
      amendment: { kind: "manure-raw", name: "Horse manure" },
      plan: {
        harvest: { first: 75, touches_soil: true },
        applications: [{ name: "spring", day: 5 }],
      },
    });
    expect(caution!.text).toContain("spreading on day 5 (spring) leaves 70 days.");
    expect(caution!.text).toContain("harvest from day 125 on");
  });

  it("puts specific harm before handling, and the last word last", () => {
    const order = codes({
      amendment: { kind: "animal", analysis: { N: 13 }, organic: "unknown" },
      plan: { bed: { plants: 100 } },
      kg: [[50]],
    });
    expect(order[0]).toBe("ammonia-injury");
    expect(order.indexOf("dust")).toBeGreaterThan(order.indexOf("organic-unknown"));
    expect(order.at(-1)).toBe("last-word");
  });

  it("warns sooner where a plan asks for it, and says so where it is to warn later", () => {
    const some: Case = {
      amendment: { analysis: { B: 11 } },
      kg: [[LB_ACRE / 0.11]],
    };
    expect(codes(some)).not.toContain("boron");
    expect(codes({ ...some, plan: { thresholds: { boron: "0.5 lb/acre" } } })).toContain("boron");
    const later = cautions({
      ...some,
      plan: { thresholds: { boron: "3 lb/acre" } },
    });
    expect(later.map((caution) => caution.code)).not.toContain("boron");
    // 3 and 2 lb/acre as kg/ha (NIST SP 811), three figures.
    expect(later.find((caution) => caution.code === "threshold-raised")!.text).toContain(
      "`boron` is set to 3.36 kg/ha, the usual is 2.24 kg/ha",
    );
  });

  it("says just above where the figures shown are the same", () => {
    const left = (kgPerHa: number) =>
      cautions({
        amendment: { analysis: { N: 10 }, release: { N: { points: { 0: "0%", 100: "20%" } } } },
        kg: [[kgPerHa / 0.08]],
      }).find(({ code }) => code === "nitrogen-left")!.text;
    expect(left(170.2)).toContain("170 kg/ha (just above 170 kg/ha)");
    expect(left(180)).toContain("180 kg/ha (above 170 kg/ha)");
  });

  it("takes a longer manure interval as stricter and a shorter one as raised", () => {
    const manure = (days: string): Case => ({
      amendment: { kind: "manure-raw" },
      plan: {
        harvest: { first: 125, touches_soil: true },
        thresholds: { "raw-manure-touching": days },
      },
    });
    expect(codes(manure("130 days"))).toContain("raw-manure-interval");
    expect(codes(manure("130 days"))).not.toContain("threshold-raised");
    expect(codes(manure("100 days"))).toContain("threshold-raised");
  });

  it("refuses a threshold of the wrong kind and one it does not know", () => {
    expect(() => cautions({ plan: { thresholds: { boron: "2 lb" } } })).toThrow(/rate/);
    expect(() => cautions({ plan: { thresholds: { boran: "2 lb/acre" } } })).toThrow(/did you mean `boron`/);
  });

  it("gives every threshold a source", () => {
    for (const { source } of Object.values(CAUTION_THRESHOLDS)) expect(source.length).toBeGreaterThan(10);
  });

  it("stands in the solution of a plan", async () => {
    const tree = {
      plan: "Beds",
      amendments: {
        blood: {
          name: "Blood meal",
          analysis: { N: 12 },
          packs: [{ size: "50 lb", price: 60 }],
          release: "fast",
          kind: "animal",
        },
      },
      target: {
        target: "Crop",
        season: "100 days",
        need: { per: "plant", N: "3 g" },
      },
      bed: { plants: 100 },
    };
    const solution = await solvePlan(loadTree(tree));
    expect(solution.cautions.map((caution) => caution.code)).toEqual(
      expect.arrayContaining(["ammonia-injury", "organic-unknown", "dust", "pets", "last-word"]),
    );
  });
});

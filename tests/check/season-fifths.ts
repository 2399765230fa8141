/**
 * Whether the promise after a test of the soil holds whatever the test shows: one lot in doubt, drawn and multiplied out
 * here, and what nine seasons in ten are promised to reach by the program, by fifths of the reading.
 */
import type { Plan } from "../../src/model.ts";
import { layOutSeason } from "../../src/season/season.ts";
import { doubtsAbout, layOutSpread } from "../../src/season/spread.ts";
import { standingOn } from "../../src/season/standing.ts";
import { seeded } from "../helpers/random.ts";

/** One lot of 4 % nitrogen whose content (8 %) and release (18 %, of which 8 % is common to all) are in doubt. */
const [CONTENT, RELEASE, COMMON] = [0.08, 0.18, 0.08];
const TEST = 0.15;
const [DAY, END] = [49, 100];
const Z90 = 1.2815515655446004;

/** @param plan any plan; all but its bed is left out. */
function oneLot(plan: Plan): Plan {
  const { soilTemperatureC: _, checkDays: __, ...rest } = plan;
  const lot = {
    id: "lot",
    name: "Lot",
    analysis: { N: 0.04 },
    packs: [],
    stockKg: 0,
    organic: "unknown",
    release: {
      byNutrient: {},
      other: {
        label: "medium",
        curve: { kind: "pool", atOnce: 0.15, later: 0.38, halfLifeDays: 21, q10: 1, referenceC: 25 },
      },
    },
  } as const;
  return { ...rest, amendments: [lot], credits: [], demands: [], seasonDays: END, varies: { spreading: 0 } };
}

/** The shares of seasons that reach what was promised after the reading, from the lowest fifth of readings to the highest. */
export function fifthsOfOneLot(plan: Plan, draws: number): number[] {
  const bare = oneLot(plan);
  const given = [{ day: 0, kg: [{ id: "lot", kg: 100 }] }];
  const released = (day: number): number => 100 * 0.04 * (0.15 + 0.38 * (1 - 2 ** (-day / 21)));
  const promisedAt = (kg: number): number => {
    const found = [{ day: DAY, kg, cv: TEST, atMost: false }];
    const { past } = standingOn(bare, { given, water: [], found }, DAY);
    const rest = { ...bare, past, applications: [{ name: "", day: DAY, share: 1 }] };
    const season = layOutSeason(rest);
    const doubts = doubtsAbout(rest, layOutSpread(rest, season), "N", END);
    return season.creditKg("N", END) - Z90 * Math.hypot(...doubts.map(({ constantKg }) => constantKg));
  };
  const step = released(DAY) / 60;
  const promised = Array.from({ length: 200 }, (_, k) => promisedAt(k * step));
  const random = seeded(91);
  const normal = () => Math.sqrt(-2 * Math.log(1 - random.next())) * Math.cos(2 * Math.PI * random.next());
  const own = Math.sqrt(RELEASE ** 2 - COMMON ** 2);
  const drawn = Array.from({ length: draws }, () => {
    const turnsOut = (1 + CONTENT * normal()) * (1 + own * normal()) * (1 + COMMON * normal());
    const z = Math.max(0, released(DAY) * turnsOut * (1 + TEST * normal()));
    const at = Math.min(198.999, z / step);
    const k = Math.floor(at);
    const promise = promised[k]! + (at - k) * (promised[k + 1]! - promised[k]!);
    return { z, held: released(END) * turnsOut >= promise };
  }).sort((a, b) => a.z - b.z);
  const fifth = draws / 5;
  return Array.from(
    { length: 5 },
    (_, k) => drawn.slice(k * fifth, (k + 1) * fifth).filter(({ held }) => held).length / fifth,
  );
}

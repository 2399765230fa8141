import { describe, expect, it } from "vitest";
import { NUTRIENT_NAMES, NUTRIENTS, nutrientMeant, readNutrient } from "../src/nutrients.ts";

/**
 * Standard atomic weights 2021, abridged to five figures: Prohaska et al. 2022, Pure Appl. Chem. 94:573. Typed here once more
 * and not taken from the program; from memory.
 */
const WEIGHT = {
  H: 1.008,
  B: 10.81,
  C: 12.011,
  N: 14.007,
  O: 15.999,
  Na: 22.99,
  Mg: 24.305,
  P: 30.974,
  S: 32.06,
  Cl: 35.45,
  K: 39.098,
  Ca: 40.078,
  Zn: 65.38,
} as const;
type Element = keyof typeof WEIGHT;
type Formula = Partial<Record<Element, number>>;

const molar = (formula: Formula): number =>
  Object.entries(formula).reduce((sum, [element, count]) => sum + WEIGHT[element as Element] * count, 0);
/** Percent by weight of an element in a compound. */
const percent = (formula: Formula, element: Element): number =>
  (100 * WEIGHT[element] * (formula[element] ?? 0)) / molar(formula);
const factor = (name: string): number => {
  const form = readNutrient(name);
  if (form === undefined) throw new Error(name);
  return form.factor;
};

describe("oxides and elements", () => {
  // Computed from the weights above. Handbooks print 2.29 and 1.20 (NOFA soil manual, Appendix A, has 2.23 for phosphorus,
  // a slip that must not come back).
  it.each([
    ["P", "P2O5", 2.2913, { P: 2, O: 5 }, "P", true],
    ["K", "K2O", 1.2046, { K: 2, O: 1 }, "K", true],
    ["MgO", "Mg", 0.60304, { Mg: 1, O: 1 }, "Mg", false],
    ["CaO", "Ca", 0.7147, { Ca: 1, O: 1 }, "Ca", false],
    ["SO3", "S", 0.40046, { S: 1, O: 3 }, "S", false],
    ["SO4", "S", 0.33376, { S: 1, O: 4 }, "S", false],
  ] as const)("%s to %s", (name, canonical, printed, formula, element, inverse) => {
    expect(readNutrient(name)?.nutrient).toBe(canonical);
    expect(Math.abs(factor(name) / printed - 1)).toBeLessThan(3e-5);
    const share = percent(formula, element) / 100;
    expect(factor(name)).toBeCloseTo(inverse ? 1 / share : share, 12);
  });

  it("is not misled by the 2.23 that one handbook prints for phosphorus", () => {
    expect(Math.abs(factor("P") - 2.23)).toBeGreaterThan(0.05);
    expect(factor("P").toFixed(2)).toBe("2.29");
    expect(factor("K").toFixed(2)).toBe("1.20");
  });
});

describe("pure compounds", () => {
  // Theoretical analyses, percent, computed from the atomic weights and stated to five figures. The product's factors take
  // the label's form to the element and back; the compound's own formula is the check.
  it.each([
    ["potassium sulfate", { K: 2, S: 1, O: 4 }, "K", 44.875, "K", 54.057],
    ["langbeinite, potash", { K: 2, Mg: 2, S: 3, O: 12 }, "K", 18.844, "K", 22.699],
    ["potassium chloride", { K: 1, Cl: 1 }, "K", 52.447, "K", 63.177],
    ["apatite, phosphorus", { Ca: 5, P: 3, O: 13, H: 1 }, "P", 18.499, "P", 42.387],
  ] as const)("%s", (_, formula, element, asElement, name, asOxide) => {
    expect(percent(formula, element)).toBeCloseTo(asElement, 2);
    expect(asElement * factor(name)).toBeCloseTo(asOxide, 2);
  });
  it.each([
    ["langbeinite, magnesia", { K: 2, Mg: 2, S: 3, O: 12 }, "Mg", 11.714, "MgO", 19.425],
    ["Epsom salt", { Mg: 1, S: 1, O: 11, H: 14 }, "Mg", 9.8614, "MgO", 16.353],
    ["kieserite", { Mg: 1, S: 1, O: 5, H: 2 }, "Mg", 17.564, "MgO", 29.126],
    ["gypsum", { Ca: 1, S: 1, O: 6, H: 4 }, "Ca", 23.279, "CaO", 32.572],
    ["calcite", { Ca: 1, C: 1, O: 3 }, "Ca", 40.044, "CaO", 56.029],
    ["dolomite", { Ca: 1, Mg: 1, C: 2, O: 6 }, "Mg", 13.181, "MgO", 21.857],
  ] as const)("%s", (_, formula, element, asElement, name, asOxide) => {
    expect(percent(formula, element)).toBeCloseTo(asElement, 2);
    expect(asOxide * factor(name)).toBeCloseTo(asElement, 2);
  });
});

describe("names", () => {
  it("knows the canonical fourteen as themselves", () => {
    expect(NUTRIENTS).toHaveLength(14);
    for (const n of NUTRIENTS) expect(readNutrient(n)).toEqual({ nutrient: n, factor: 1 });
  });
  it("knows every name it lists, and no other", () => {
    for (const name of NUTRIENT_NAMES) expect(readNutrient(name)).toBeDefined();
    for (const name of ["n", "P2O", "potash", "", "constructor", "toString", "__proto__"])
      expect(readNutrient(name)).toBeUndefined();
  });
});

describe("nutrients in words", () => {
  it.each([
    ["nitrogen", "N"],
    ["Potash", "K2O"],
    ["sulphur", "S"],
    ["p2o5", "P2O5"],
    ["constructor", undefined],
  ])("%s is %s", (word, name) => {
    expect(nutrientMeant(word)).toBe(name);
    if (name !== undefined) expect(readNutrient(name)).toBeDefined();
  });
});

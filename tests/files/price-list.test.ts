/** Price lists: the CSV as RFC 4180 has it, and the YAML changed where prices are and nowhere else. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { parse } from "yaml";
import { putPrices } from "../../src/files/price-edit.ts";
import { type PriceRow, readPriceList } from "../../src/files/price-list.ts";
import { formatProblems, type Problem } from "../../src/problem.ts";

const rowsOf = (csv: string): readonly PriceRow[] => {
  const read = readPriceList(csv, "list.csv");
  if (!read.ok) throw new Error(formatProblems(read.problems));
  return read.value;
};
const faultsOf = (csv: string): string[] => {
  const read = readPriceList(csv, "list.csv");
  return read.ok ? [] : read.problems.map(described);
};
const described = (p: Problem): string =>
  `${p.code} ${p.place?.file}:${p.place?.line}:${p.place?.column} ${p.message}`;
const put = (yaml: string, csv: string, elsewhere: readonly string[] = []): string => {
  const priced = putPrices(yaml, "a.yaml", rowsOf(csv), new Set(elsewhere), { file: "list.csv", text: csv });
  if (!priced.ok) throw new Error(formatProblems(priced.problems));
  return priced.value.text;
};

const FILE = `# My shed. Prices of last spring.
amendments:
  feather-meal:                # the good one
    name: Feather meal
    analysis: {N: 13,  S: 1.5} # as the label says
    packs:
      - {size: 50 lb, price: 38.50}   # by the pallet
      - size: 5 lb
        price: 9.25

    note: placeholder price; ask about the lot

  wood-ash: {name: Wood ash, analysis: {K2O: 6}, bulk: {price: 0.30, per: lb}, note: placeholder price}
  # below: what the neighbour sells
  kelp:
    name: "Kelp, dried"
    packs: [{size: '10 kg', price: 31}]
    analysis: {K2O: 3}
    note: placeholder price
`;

describe("reading a list", () => {
  it("says what is wrong with each row of a list of any length", () => {
    const result = readPriceList(`id,size,price\n${"meal,50 lb,dear\n".repeat(150_000)}`, "long.csv");
    expect(result.ok ? 0 : result.problems.length).toBe(150_000);
  });

  it("takes columns in any order, quotes, CRLF, a byte order mark and semicolons", () => {
    const wanted = [{ id: "feather-meal", price: 41.5, priceText: "41.50", supplier: "farm-store" }];
    const lists = [
      "id,size,price,supplier\nfeather-meal,50 lb,41.50,farm-store\n",
      '\uFEFFPrice, ID ,"size",Supplier\r\n41.50,feather-meal,"50 lb",farm-store\r\n\r\n',
      "id;size;price;supplier\nfeather-meal;50 lb;41.50;farm-store",
    ];
    for (const csv of lists) expect(rowsOf(csv)).toMatchObject(wanted);
    expect(rowsOf('id,size,price\nx,"1,000 lb",1')[0]!.offer).toMatchObject({
      kind: "pack",
      // NIST SP 811: 1 lb is 0.45359237 kg.
      measure: { by: "kg", value: 453.59237 },
    });
    // NIST Handbook 44: a cubic foot is 28.316846592 L by way of the inch.
    expect(rowsOf("id,size,price\nx,2 cu ft,1")[0]!.offer).toMatchObject({
      measure: { by: "litres", value: 2 * 28.316846592 },
    });
    expect(rowsOf("id,size,price\nx,per lb,0.25\ny,/kg,2")).toMatchObject([
      { offer: { kind: "bulk", text: "lb", kg: 0.45359237 } },
      { offer: { kind: "bulk", text: "kg", kg: 1 } },
    ]);
  });

  it("reads back whatever RFC 4180 can hold", () => {
    fc.assert(
      fc.property(fc.array(fc.string(), { minLength: 1, maxLength: 6 }), (names) => {
        // Written as the RFC says: in quotes, with quotes doubled. Ids with odd signs are looked up, not refused here.
        const cells = names.map((name) => name.trim()).filter((name) => name !== "");
        const distinct = [...new Set(cells)];
        if (distinct.length === 0) return;
        const csv = `id,size,price\r\n${distinct.map((id) => `"${id.replaceAll('"', '""')}",1 kg,2`).join("\r\n")}`;
        expect(rowsOf(csv).map((row) => row.id)).toEqual(distinct);
      }),
    );
  });

  it.each([
    ["", "file-empty list.csv:1:1 this list holds nothing"],
    ["id,size,price\n", "file-empty list.csv:1:1 this list has a first row and no prices"],
    ["id,size\nx,1 kg", "key-missing list.csv:1:1 the first row names no column `price`"],
    ["id,sise,price\nx,1 kg,1", "key-unknown list.csv:1:4 the column `sise` means nothing here"],
    ["id,size,price\nx,1 kgg,1", "unit-unknown list.csv:2:3 `1 kgg`: no such unit"],
    ["id,size,price\nx,50,1", "unit-missing list.csv:2:3 `50` has no unit; a weight is needed here"],
    ["id,size,price\nx,1 kg,$4", "number-unreadable list.csv:2:8 `$4` is not a price"],
    ["id,size,price\nx,1 kg,-4", "number-range list.csv:2:8 `-4` is below zero"],
    ["id,size,price\nx,1 kg", "key-missing list.csv:2:3 this row has no price"],
    [
      "id,size,price\nx,1 kg,1,5",
      "type-wrong list.csv:2:10 this row has more cells than the first row has columns",
    ],
    ['id,size,price\n"x,1 kg,1', "csv-quote list.csv:2:1 a quote is opened here and never closed"],
    [
      "id,size,price\nx,1 kg,1\nx,1000 g,2",
      "key-duplicate list.csv:3:3 `x` in this size is already on line 2",
    ],
    [
      "id,size,price,supplier\nx,1 kg,1,a\nx,1 kg,2,a",
      "key-duplicate list.csv:3:3 `x` in this size is already on line 2",
    ],
    [
      "id,size,price,supplier\nx,1 kg,1,a\nx,1 kg,2,",
      "key-duplicate list.csv:3:3 `x` in this size is already on line 2",
    ],
    [
      "id,size,price,supplier\nx,1 kg,1,a\nx,1 kg,2,b\nx,5 kg,4,",
      "supplier-ambiguous list.csv:4:10 `x` has prices of several suppliers in this list, and this row does not say whose it is (`a` on line 2, `b` on line 3)",
    ],
    [
      "id,size,price,supplier\nx,per kg,1,a\nx,per lb,2,b",
      "key-conflict list.csv:3:12 `x` is sold by weight by `a` on line 2 and by `b` here",
    ],
    ["id,size,price,supplier\nx,1 kg,1,Farm Store", "id-malformed list.csv:2:10 `Farm Store` is not an id"],
  ])("says what is wrong with %j", (csv, message) => {
    expect(faultsOf(csv)).toContain(message);
  });

  it("takes a point for no decimal sign where that is a comma", () => {
    const read = readPriceList(
      "id;size;price\nx;1 kg;1.500,25\ny;0,5 kg;7\nz;1 kg;8.50",
      "list.csv",
      "comma",
    );
    expect(read.ok ? [] : read.problems.map(described)).toEqual([
      "number-unreadable list.csv:4:8 `8.50` is no number in a list whose decimal sign is a comma",
    ]);
    const fine = readPriceList("id;size;price\nx;1 kg;1.500,25\ny;0,5 kg;7", "list.csv", "comma");
    expect(fine.ok && fine.value.map(({ price }) => price)).toEqual([1500.25, 7]);
  });

  it("reports every fault, not the first alone", () => {
    expect(faultsOf("id,size,price\na,1 kgg,x\nb,2 lb,y\nc,,1")).toHaveLength(4);
  });
});

describe("putting prices into a file", () => {
  it("changes the prices and leaves every other sign where it was", () => {
    const csv = "id,size,price\nfeather-meal,50 lb,41.00\nfeather-meal,80 oz,10\n";
    const text = put(FILE, csv);
    // 80 oz is 5 lb (NIST Handbook 44: 16 oz to the pound), so the second row finds the second pack.
    const expected = FILE.replace("38.50", "41.00")
      .replace("9.25", "10")
      .replace("placeholder price; ask", "ask");
    expect(text).toBe(expected);
  });

  it("adds a size in the style of what is there", () => {
    const text = put(FILE, "id,size,price\nfeather-meal,25 lb,23.50\nkelp,25 kg,70\n");
    expect(text).toContain("        price: 9.25\n      - {size: 25 lb, price: 23.50}\n");
    expect(text).toContain("packs: [{size: '10 kg', price: 31}, {size: 25 kg, price: 70}]");
    // Packs that the list does not name still have invented prices, so the word stays.
    expect(text.match(/placeholder price/g)).toHaveLength(3);
    expect(text.split("\n").filter((line) => line.includes("#"))).toEqual(
      FILE.split("\n").filter((line) => line.includes("#")),
    );
  });

  it("sets a price by weight, in the unit of the list", () => {
    const text = put(FILE, "id,size,price\nwood-ash,per kg,0.50\n");
    expect(text).toContain("bulk: {price: 0.50, per: kg}}");
    expect(text).not.toMatch(/wood-ash:.*placeholder/);
    expect(put(FILE, "id,size,price\nkelp,per lb,1.2\nkelp,10 kg,31")).toContain(
      "    packs: [{size: '10 kg', price: 31}]\n    bulk: {price: 1.2, per: lb}\n",
    );
  });

  it("takes a note away that says nothing but placeholder price", () => {
    expect(put(FILE, "id,size,price\nkelp,10 kg,33")).toBe(
      FILE.replace("price: 31", "price: 33").replace(
        "    analysis: {K2O: 3}\n    note: placeholder price\n",
        "    analysis: {K2O: 3}\n",
      ),
    );
  });

  it("keeps the line ends of the file", () => {
    const windows = FILE.replaceAll("\n", "\r\n");
    const text = put(windows, "id,size,price\nfeather-meal,25 lb,23.50\n");
    expect(text.replaceAll("\r\n", "")).not.toContain("\n");
    expect(text.replaceAll("\r\n", "\n")).toBe(put(FILE, "id,size,price\nfeather-meal,25 lb,23.50\n"));
  });

  it("writes entries for what an included file defines", () => {
    const csv = "id,size,price,supplier\nblood-meal,50 lb,58,mill\nblood-meal,per lb,2,\n";
    const entry =
      "  blood-meal: {packs: [{size: 50 lb, price: 58}], bulk: {price: 2, per: lb}, supplier: mill}";
    const only = put("# mine\ninclude: [all.yaml]\n", csv, ["blood-meal"]);
    expect(only).toBe(`# mine\ninclude: [all.yaml]\namendments:\n${entry}\n`);
    expect(put("include: [all.yaml]\namendments:\n  # nothing yet\n", csv, ["blood-meal"])).toContain(entry);
    expect(put(FILE, csv, ["blood-meal"])).toBe(`${FILE}${entry}\n`);
    expect(put("include: [a.yaml]\namendments: {}\n", csv, ["blood-meal"])).toBe(
      `include: [a.yaml]\namendments: {${entry.trim()}}\n`,
    );
  });

  it("refuses ids that nothing defines, with their place in the list", () => {
    const csv = "id,size,price\nkelp,10 kg,33\nfeather-mael,50 lb,1\nguano,1 kg,2";
    const priced = putPrices(FILE, "a.yaml", rowsOf(csv), new Set(), { file: "list.csv", text: csv });
    expect(priced.ok ? [] : priced.problems.map(described)).toEqual([
      "amendment-unknown list.csv:3:1 `a.yaml` has no amendment `feather-mael`",
      "amendment-unknown list.csv:4:1 `a.yaml` has no amendment `guano`",
    ]);
    expect(priced.ok ? "" : priced.problems[0]!.hint).toBe("did you mean `feather-meal`?");
  });

  it("refuses what is shared by an alias, since a change would reach further than asked", () => {
    const yaml = "amendments:\n  a: {packs: &p [{size: 1 kg, price: 1}]}\n  b: {packs: *p}\n";
    const faults = (csv: string) => {
      const priced = putPrices(yaml, "a.yaml", rowsOf(csv), new Set(), { file: "list.csv", text: csv });
      return priced.ok ? [] : priced.problems.map(described);
    };
    expect(faults("id,size,price\nb,1 kg,2")).toEqual([
      "type-wrong a.yaml:3:14 `packs` of `b` is written in a way that prices cannot be put into",
    ]);
    expect(faults("id,size,price\na,1 kg,2")).toEqual([
      "type-wrong a.yaml:2:17 `packs` of `a` is written in a way that prices cannot be put into",
    ]);
  });

  it("says what changed, was added, stayed or was kept", () => {
    const csv =
      "id,size,price\nfeather-meal,50 lb,38.50\nfeather-meal,25 lb,20\nwood-ash,per kg,1\nkelp,10 kg,30";
    const priced = putPrices(FILE, "a.yaml", rowsOf(csv), new Set(), { file: "list.csv", text: csv });
    if (!priced.ok) throw new Error(formatProblems(priced.problems));
    expect(priced.value.changes).toEqual([
      { id: "feather-meal", size: "50 lb", before: 38.5, after: 38.5, what: "same" },
      { id: "feather-meal", size: "25 lb", before: null, after: 20, what: "added" },
      { id: "feather-meal", size: "5 lb", before: 9.25, after: null, what: "kept" },
      {
        id: "wood-ash",
        size: "per kg",
        before: expect.closeTo(0.3 / 0.45359237, 12),
        after: 1,
        what: "changed",
      },
      { id: "kelp", size: "10 kg", before: 31, after: 30, what: "changed" },
    ]);
  });

  it("has an offer for each size and supplier, and asks whose a price is that may be of several", () => {
    const yaml =
      "amendments:\n  meal:\n    supplier: mill\n    packs: [{size: 10 kg, price: 20}, {size: 10 kg, price: 18, supplier: barn}]\n";
    expect(
      put(yaml, "id,size,price,supplier\nmeal,10 kg,19,barn\nmeal,10 kg,21,mill\nmeal,5 kg,9,barn\n"),
    ).toBe(
      "amendments:\n  meal:\n    supplier: mill\n    packs: [{size: 10 kg, price: 21}, {size: 10 kg, price: 19, supplier: barn}, {size: 5 kg, price: 9, supplier: barn}]\n",
    );
    const faults = (csv: string) => {
      const priced = putPrices(yaml, "a.yaml", rowsOf(csv), new Set(), { file: "list.csv", text: csv });
      return priced.ok ? [] : priced.problems.map(described);
    };
    expect(faults("id,size,price\nmeal,10 kg,19")).toEqual([
      "supplier-ambiguous list.csv:2:6 10 kg of `meal` is sold by mill and barn; the row does not say whose price it is",
    ]);
    expect(faults("id,size,price,supplier\nmeal,per kg,2,barn")).toEqual([
      "key-conflict list.csv:2:15 `meal` comes from `mill` in the file, and what is sold by weight comes from the amendment's own supplier, not from `barn`",
    ]);
  });

  it("writes suppliers beside packs where several sell what an included file defines", () => {
    const csv = "id,size,price,supplier\nx,50 lb,58,mill\nx,50 lb,55,barn\nx,per lb,2,mill\n";
    expect(put("include: [all.yaml]\n", csv, ["x"])).toContain(
      "x: {packs: [{size: 50 lb, price: 58}, {size: 50 lb, price: 55, supplier: barn}], bulk: {price: 2, per: lb}, supplier: mill}",
    );
  });

  it("means what a list of several suppliers says (read back with the yaml package alone)", () => {
    const size = fc.constantFrom("50 lb", "5 lb", "10 kg");
    const seller = fc.constantFrom("mill", "barn", "coop");
    const offers = fc.uniqueArray(fc.record({ size, seller, price: fc.integer({ min: 0, max: 99 }) }), {
      selector: (o) => `${o.size} ${o.seller}`,
      minLength: 1,
    });
    type Pack = { size: string; price: number; supplier?: string };
    fc.assert(
      fc.property(offers, offers, fc.boolean(), (old, fresh, flow) => {
        const pack = (o: (typeof old)[number]) =>
          `{size: ${o.size}, price: ${o.price}${o.seller === "mill" ? "" : `, supplier: ${o.seller}`}}`;
        const packs = flow
          ? `    packs: [${old.map(pack).join(", ")}]\n`
          : `    packs:\n${old.map((o) => `      - ${pack(o)}\n`).join("")}`;
        const text = put(
          `amendments:\n  x:\n    supplier: mill\n${packs}`,
          `id,size,price,supplier\n${fresh.map((o) => `x,${o.size},${o.price},${o.seller}`).join("\n")}`,
        );
        const read = parse(text).amendments.x as { supplier: string; packs: Pack[] };
        const now = new Map(
          read.packs.map((p) => [`${p.size} ${p.supplier ?? read.supplier}`, p.price] as const),
        );
        expect(now.size).toBe(read.packs.length);
        expect(now).toEqual(
          new Map([...old, ...fresh].map((o) => [`${o.size} ${o.seller}`, o.price] as const)),
        );
      }),
    );
  });

  it("means what the list says, for any mixture of styles (read back with the yaml package alone)", () => {
    const size = fc.constantFrom("50 lb", "5 lb", "10 kg", "25 kg");
    const style = fc.constantFrom(
      (p: string[]) => `    packs: [${p.join(", ")}]\n`,
      (p: string[]) => `    packs:\n${p.map((one) => `      - ${one}  # note\n`).join("")}`,
      (p: string[]) =>
        `    packs:\n${p.map((one) => `    - ${one.slice(1, -1).replace(", ", "\n      ")}\n`).join("")}`,
    );
    const offers = fc.uniqueArray(fc.record({ size, price: fc.integer({ min: 0, max: 99 }) }), {
      selector: (o) => o.size,
      minLength: 1,
    });
    fc.assert(
      fc.property(offers, offers, style, fc.boolean(), (old, fresh, layout, tail) => {
        const packs = old.map((o) => `{size: ${o.size}, price: ${o.price}}`);
        const yaml = `amendments:\n  x:\n    name: X # why\n${layout(packs)}${tail ? "    organic: unknown\n\n  y: {name: Y}\n" : ""}`;
        const csv = `id,size,price\n${fresh.map((o) => `x,${o.size},${o.price}`).join("\n")}`;
        const text = put(yaml, csv);
        const wanted = old.map((o) => fresh.find((f) => f.size === o.size) ?? o);
        const added = fresh.filter((f) => !old.some((o) => o.size === f.size));
        const before = parse(yaml);
        before.amendments.x.packs = [...wanted, ...added];
        expect(parse(text)).toEqual(before);
        expect(text.match(/#.*/g)).toEqual(yaml.match(/#.*/g));
      }),
    );
  });
});

describe("remarks and anchors", () => {
  const both = "id,size,price\na,50 lb,9.00\na,20 lb,8\n";
  it.each([
    [
      "a remark after the placeholder's note",
      "amendments:\n  a:\n    analysis: {N: 5}\n    note: placeholder price # mine\n",
      "    # mine\n",
    ],
    [
      "a remark where packs are to come",
      "amendments:\n  a:\n    packs: # none yet\n    supplier: x\n",
      "price: 8}] # none yet\n    supplier: x\n",
    ],
    [
      "a remark with Windows line ends",
      "amendments:\r\n  a:\r\n    packs: # none\r\n",
      "price: 8}] # none\r\n",
    ],
    [
      "an anchor that nothing repeats",
      "amendments:\n  a: &a\n    packs: &p\n      - &q {size: 50 lb, price: 3}\n",
      "packs: &p\n      - &q {size: 50 lb, price: 9.00}\n",
    ],
    [
      "a list level with its key",
      "amendments:\n  a:\n    packs:\n    - size: 50 lb\n      price: 3 # was\n",
      "    - size: 50 lb\n      price: 9.00 # was\n    - {size: 20 lb, price: 8}\n",
    ],
  ])("keeps %s", (_, yaml, expected) => {
    const text = put(yaml, both);
    expect(text).toContain(expected);
    const packs = (parse(text) as { amendments: { a: { packs: { size: string; price: number }[] } } })
      .amendments.a.packs;
    expect(packs).toEqual([
      { size: "50 lb", price: 9 },
      { size: "20 lb", price: 8 },
    ]);
  });
});

/** Price lists: CSV as RFC 4180 has it and as spreadsheets write it; what cannot be read is refused where it is. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { rowsOf } from "../../src/files/csv.ts";
import type { DecimalSign } from "../../src/files/price-cells.ts";
import { type ListUse, offersIn, readPriceList } from "../../src/files/price-list.ts";
import type { Amendment } from "../../src/model.ts";
import { formatProblems, type Problem } from "../../src/problem.ts";
import { loadTree } from "../helpers/load-tree.ts";
import { slow } from "../helpers/seeds.ts";

const LB = 0.45359237;
const SHOP = loadTree({
  plan: "lists",
  amendments: {
    "feather-meal": {
      name: "Feather meal",
      analysis: { N: 13 },
      bulk: { price: 1, per: "lb" },
      release: "at-once",
    },
    kelp: {
      name: "Kelp, dried",
      analysis: { K2O: 3 },
      density: "0.5 kg/L",
      packs: [{ size: "10 kg", price: 9 }],
      release: "at-once",
    },
    meal: {
      name: "Meal",
      analysis: { N: 10 },
      packs: [
        { size: "10 kg", price: 20, supplier: "mill" },
        { size: "10 kg", price: 18, supplier: "barn" },
        { size: "5 kg", price: 12, supplier: "barn" },
      ],
      release: "at-once",
    },
  },
  target: { target: "crop", season: "60 days", need: { per: "bed", N: "1 kg" } },
}).amendments;

interface Asked extends ListUse {
  readonly decimal?: DecimalSign;
  readonly amendments?: readonly Amendment[];
}
const described = (p: Problem): string =>
  `${p.code} ${p.place?.file}:${p.place?.line}:${p.place?.column} ${p.message}`;

/** What a list offers, a line each, or what is wrong with it. */
function read(csv: string, { decimal, amendments = SHOP, ...use }: Asked = {}): string[] {
  const list = readPriceList(csv, "list.csv", decimal);
  if (!list.ok) return list.problems.map(described);
  const { offers, problems } = offersIn(list.value, amendments, use);
  if (problems.length > 0) return problems.map(described);
  return [...offers].flatMap(([id, own]) =>
    own.map(({ sizeKg, price, seller }) => {
      const size = sizeKg === null ? "per kg" : `${Number(sizeKg.toPrecision(6))} kg`;
      return `${id} ${size} ${Number(price.toPrecision(6))}${seller === null ? "" : ` ${seller}`}`;
    }),
  );
}

const BAG = [`feather-meal ${Number((50 * LB).toPrecision(6))} kg 41.5`];

describe("a list as spreadsheets write it", () => {
  it.each([
    ["plain", "id,size,price\nfeather-meal,50 lb,41.50\n"],
    [
      "a byte order mark, CRLF, quotes",
      '\uFEFF"Price"," ID ","size"\r\n"41.50","feather-meal","50 lb"\r\n\r\n',
    ],
    ["lines of old machines", "id,size,price\rfeather-meal,50 lb,41.50\r"],
    ["semicolons and decimal commas", "id;size;price\nfeather-meal;50 lb;41,50"],
    ["tabs", "id\tsize\tprice\nfeather-meal\t50 lb\t41.50"],
    ["the line that names the separator", "sep=;\nid;size;price\nfeather-meal;50 lb;41.50"],
    [
      "a title, an address, blank rows",
      "Spring list,,\n,,\nprices in dollars,,\nid,size,price\n,,\nfeather-meal,50 lb,41.50",
    ],
    ["merged heads", "Goods,,Price\nid,size,USD\nfeather-meal,50 lb,41.50"],
    ["the currency in the head", "id,size,Price (USD)\nfeather-meal,50 lb,41.50"],
    ["the unit in the head", "id,Size (lb),price\nfeather-meal,50,41.50"],
    ["the unit in a column", "id,size,unit,price\nfeather-meal,50,lb,41.50"],
    ["pounds as #", "id,size,price\nfeather-meal,50# bag,$41.50"],
    [
      "its name, in capitals, and a code",
      "SKU,Product,Pack size,Your price\n10443,FEATHER  MEAL,50-lb bag,USD 41.50",
    ],
    [
      "a heading between rows, a head again",
      "id,size,price\nMEALS,,\nfeather-meal,50 lb,41.50\nid,size,price\n",
    ],
    ["blanks that do not break", "id,size,price\nfeather-meal,50\u00a0lb,41.50\u00a0"],
    ["the same row twice", "id,size,price\nfeather-meal,50 lb,41.50\nfeather-meal,50 lb,41.50"],
  ])("%s", (_, csv) => {
    expect(read(csv, { currency: "USD" })).toEqual(BAG);
  });

  it("matches rows by the store's own names, by id or code, before anything else", () => {
    const names = new Map([
      ["Feather Meal 13-0-0", "feather-meal"],
      ["10443", "kelp"],
    ]);
    const csv = 'id,name,size,price\n1,"feather meal  13-0-0",50 lb,41.50\n10443,Feather meal,20 kg,60\n';
    expect(read(csv, { names })).toEqual([...BAG, "kelp 20 kg 60"]);
  });

  it("takes two makes of one store as two offers, and loose weight by any unit", () => {
    const names = new Map([
      ["Hen A", "feather-meal"],
      ["Hen B", "feather-meal"],
    ]);
    expect(read("name,size,price\nHen A,10 kg,20\nHen B,10 kg,22\n", { names })).toEqual([
      "feather-meal 10 kg 20",
      "feather-meal 10 kg 22",
    ]);
    for (const size of ["kg", "per kg", "/kg", "bulk per kg", "loose, kg", "per 10 kg"])
      expect(read(`id,size,price\nfeather-meal,"${size}",${size.includes("10") ? 25 : 2.5}\n`)).toEqual([
        "feather-meal per kg 2.5",
      ]);
  });

  it("takes packs by volume where there is a density, and halves as signs", () => {
    expect(read("id,size,price\nkelp,2 L,3\nkelp,½ kg,2\n")).toEqual(["kelp 1 kg 3", "kelp 0.5 kg 2"]);
  });
});

describe("how a list writes decimals", () => {
  it.each([
    [
      "the other prices show it",
      "id;size;price\nfeather-meal;1.000 kg;1.500,00\nkelp;5 kg;2.000",
      undefined,
      ["feather-meal 1000 kg 1500", "kelp 5 kg 2000"],
    ],
    [
      "commas between cells leave the point",
      'id,size,price\nfeather-meal,"1,000 kg","1,500"',
      undefined,
      ["feather-meal 1000 kg 1500"],
    ],
    [
      "a price in quotes shows a comma",
      'id,size,price\nfeather-meal,"22,7 kg","41,50"',
      undefined,
      ["feather-meal 22.7 kg 41.5"],
    ],
    ["it was said", "id;size;price\nfeather-meal;10 kg;1.500", "comma" as const, ["feather-meal 10 kg 1500"]],
    [
      "it was said otherwise",
      "id;size;price\nfeather-meal;10 kg;1.500",
      "point" as const,
      ["feather-meal 10 kg 1.5"],
    ],
    [
      "apostrophes and blanks part thousands",
      "id;size;price\nfeather-meal;10 kg;1'500.50\nkelp;5 kg;1 500.25",
      undefined,
      ["feather-meal 10 kg 1500.5", "kelp 5 kg 1500.25"],
    ],
  ])("%s", (_, csv, decimal, wanted) => {
    expect(read(csv, decimal ? { decimal } : {})).toEqual(wanted);
  });

  it("refuses what can be read in two ways, and says where", () => {
    expect(read("id;size;price\nfeather-meal;10 kg;1.500\n")).toEqual([
      "number-unreadable list.csv:2:20 `1.500` can be read in two ways: the sign may part thousands or be the decimal",
    ]);
    expect(read("id;size;price\nfeather-meal;10 kg;38.50\n", { decimal: "comma" })).toEqual([
      "number-unreadable list.csv:2:20 `38.50` is no number in a list whose decimal sign is a comma",
    ]);
  });
});

describe("what is refused, with row and column", () => {
  it.each([
    ["", "file-empty list.csv:1:1"],
    ["\n  \n", "file-empty list.csv:1:1"],
    ["id,size,price\n", "file-empty list.csv:1:1"],
    ["id,size\nmeal,50 lb\n", "key-missing list.csv:1:1 no row names a column `price`"],
    ["id,size,prise\nmeal,50 lb,3\n", "key-unknown list.csv:1:9"],
    ["id,size,list price,your price\nmeal,50 lb,3,2\n", "key-duplicate list.csv:1:20"],
    ['id,size,price\nfeather-meal,"50 lb,41\n', "csv-quote list.csv:2:14"],
    ["id,size,price\nfeather-meal,50 lb,38,50\n", "type-wrong list.csv:2:23"],
    [
      "id,size,price,supplier\nfeather-meal,50 lb,38,50\n",
      "id-malformed list.csv:2:23 `50` is a number, where a supplier should be",
    ],
    [
      "id,size,price\nfeather-meal,50 lb,0\n",
      "number-range list.csv:2:20 `0` is what a spreadsheet writes for a blank cell",
    ],
    [
      "id,size,price\nfeather-meal,50 lb,\n",
      "key-missing list.csv:2:1 this row of `feather-meal` has no price",
    ],
    ["id,size,price\nfeather-meal,,38\n", "key-missing list.csv:2:1 this row of `feather-meal` has no size"],
    [
      "id,size,price\nfeather-meal,50 lb,38\n,5 lb,9\n",
      "key-missing list.csv:3:1 this row has a price and names nothing",
    ],
    ["id,size,price\nfeather-meal,50,38\n", "unit-missing list.csv:2:14"],
    ["id,size,price\nfeather-meal,each,38\n", "list.csv:2:14"],
    [
      "id,size,price\nfeather-meal,50 lb,€38\n",
      "choice-unknown list.csv:2:20 `€` is another currency than the plan's, USD",
    ],
    ["id,size,price\nfeather-meal,50 lb,CAD 38\n", "choice-unknown list.csv:2:20"],
    ["id,size,price\nfeather-meal,50 lb,38\nfeather-meal,800 oz,39\n", "key-duplicate list.csv:3:14"],
    ["id,size,price\nfeather-meal,2 L,38\n", "density-missing list.csv:2:14"],
    ["id,size,price,supplier\nfeather-meal,50 lb,38,!!\n", "id-malformed list.csv:2:23"],
    [
      "id,size,price\nmeal,10 kg,19\n",
      "supplier-ambiguous list.csv:2:6 `10 kg` of meal is sold by mill and barn",
    ],
    [
      "id,size,price,supplier\nkelp,5 kg,3,a\nkelp,8 kg,4,b\nkelp,9 kg,5,\n",
      "supplier-ambiguous list.csv:4:6",
    ],
  ])("%j", (csv, wanted) => {
    const found = read(csv, { currency: "USD" });
    expect(found).toHaveLength(1);
    expect(found[0]).toContain(wanted);
  });

  it("only where it is the plan's: other goods are counted and not judged", () => {
    const list = readPriceList(
      'name,size,price\nHose,each,call\n"Gloves, L",pair,9\nfeather meal,10 kg,20,,\nHose,x,y\n',
      "l",
    );
    if (!list.ok) throw new Error(formatProblems(list.problems));
    const { strange, problems, offers } = offersIn(list.value, SHOP);
    expect([strange, problems, [...offers.keys()]]).toEqual([
      ["Hose", "Gloves, L", "Hose"],
      [],
      ["feather-meal"],
    ]);
    const gone = offersIn(list.value, SHOP, {}, (id) => id === "kelp");
    expect([...gone.offers.keys(), ...gone.problems]).toEqual([]);
  });

  slow("each of 50,000 rows", () => {
    expect(read(`id,size,price\n${"kelp,50 lb,dear\n".repeat(50_000)}`)).toHaveLength(50_000);
  });
});

describe("CSV", () => {
  it("comes back as it was quoted (RFC 4180)", () => {
    const text = fc.string({ maxLength: 8 }).map((s) => s.replace(/\s+/g, " ").trim());
    const table = fc.array(fc.array(text, { minLength: 3, maxLength: 3 }), { minLength: 1, maxLength: 6 });
    fc.assert(
      fc.property(table, fc.constantFrom(",", ";", "\t", "|"), (rows, separator) => {
        const csv = rows.map((row) => row.map((c) => `"${c.replaceAll('"', '""')}"`).join(separator));
        const kept = rows.filter((row) => row.some((c) => c !== ""));
        const got = rowsOf(csv, separator as ",");
        expect(got.unclosed).toBeUndefined();
        expect(got.rows.map((row) => row.map((c) => c.text))).toEqual(kept);
      }),
      { numRuns: 200 },
    );
  });

  it("says where cells are, also below a cell of several lines", () => {
    const { rows } = rowsOf(['a,"b', 'c",d', "e, f ,g"], ",");
    expect(rows.map((row) => row.map(({ line, column }) => `${line}:${column}`))).toEqual([
      ["1:1", "1:3", "2:4"],
      ["3:1", "3:3", "3:7"],
    ]);
  });
});

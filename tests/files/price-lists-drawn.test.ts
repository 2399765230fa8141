/** Price lists as spreadsheets write them, drawn at random by code apart from the reader; `npm run check -- lists` has 6,000. */
import { expect, it } from "vitest";
import { checkPriceLists } from "../check/price-lists.ts";
import { seeds } from "../helpers/seeds.ts";

const LISTS = seeds(50, 400);

it("reads drawn lists as they are meant, or refuses them at the cell that is wrong", () => {
  const { read, refused } = checkPriceLists(LISTS);
  expect(read).toBeGreaterThan(LISTS / 2);
  expect(refused).toBeGreaterThan(LISTS / 8);
});

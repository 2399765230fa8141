/** Price lists as spreadsheets write them, drawn at random by code apart from the reader; `npm run check -- lists` has 6,000. */
import { expect, it } from "vitest";
import { checkPriceLists } from "../check/price-lists.ts";

it("reads 400 drawn lists as they are meant, or refuses them at the cell that is wrong", () => {
  const { read, refused } = checkPriceLists(400);
  expect(read).toBeGreaterThan(200);
  expect(refused).toBeGreaterThan(50);
});

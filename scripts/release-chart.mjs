// Draws recipes/release-classes.svg: each release class against the published figures it was fitted to.
// Usage: node scripts/release-chart.mjs            writes the file
//        node scripts/release-chart.mjs --stdout   prints it instead
import { writeFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { buildSync } from "esbuild";

const root = new URL("../", import.meta.url);

/** What a module exports, straight from its source. */
async function exportsOf(module) {
  const built = buildSync({
    entryPoints: [fileURLToPath(new URL(module, root))],
    bundle: true,
    write: false,
    format: "esm",
  });
  const code = Buffer.from(built.outputFiles[0].contents).toString("base64");
  return await import(`data:text/javascript;base64,${code}`);
}

/** Share available after `days` at `temperatureC`. */
function available(curve, days, temperatureC) {
  const tau = days * curve.q10 ** ((temperatureC - curve.referenceC) / 10);
  if (curve.kind === "pool") return curve.atOnce + curve.later * (1 - 2 ** (-tau / curve.halfLifeDays));
  let [x0, y0] = [0, 0];
  for (const [x1, y1] of curve.points) {
    if (tau <= x1) return x1 === x0 ? y1 : y0 + ((y1 - y0) * (tau - x0)) / (x1 - x0);
    [x0, y0] = [x1, y1];
  }
  return y0;
}

const PANEL = { width: 330, height: 190, left: 46, top: 72, gapX: 40, gapY: 66 };
const LAST_DAY = 120;
const TOP_SHARE = 0.8;
const DRAWN = ["fast", "medium", "composted-litter", "slow", "very-slow"];
/** Cold to warm; dash patterns differ too, so that the lines can be told apart without colour. */
const STROKES = [
  { color: "#1f5fa8", dash: "7 4", marker: "square" },
  { color: "#a23b00", dash: "", marker: "circle" },
  { color: "#6a3d9a", dash: "2 3", marker: "diamond" },
];

const number = (x) => String(Math.round(x * 100) / 100);

function mark(kind, x, y, color) {
  const paint = `fill="#ffffff" stroke="${color}" stroke-width="2"`;
  if (kind === "square")
    return `<rect x="${number(x - 4)}" y="${number(y - 4)}" width="8" height="8" ${paint}/>`;
  if (kind === "circle") return `<circle cx="${number(x)}" cy="${number(y)}" r="4.5" ${paint}/>`;
  return `<path d="M${number(x)} ${number(y - 5.5)}l5.5 5.5l-5.5 5.5l-5.5 -5.5z" ${paint}/>`;
}

function panel(name, { curve, data }, originX, originY) {
  const px = (days) => originX + (days / LAST_DAY) * PANEL.width;
  const py = (share) => originY + PANEL.height - (share / TOP_SHARE) * PANEL.height;
  const out = [`<text x="${originX}" y="${originY - 12}" font-size="15" font-weight="bold">${name}</text>`];
  for (let percent = 0; percent <= TOP_SHARE * 100; percent += 20) {
    const y = number(py(percent / 100));
    out.push(
      `<line x1="${originX}" y1="${y}" x2="${originX + PANEL.width}" y2="${y}" stroke="#d5d5d5"/>`,
      `<text x="${originX - 6}" y="${number(py(percent / 100) + 4)}" text-anchor="end" font-size="11">${percent} %</text>`,
    );
  }
  for (let day = 0; day <= LAST_DAY; day += 28)
    out.push(
      `<line x1="${number(px(day))}" y1="${originY + PANEL.height}" x2="${number(px(day))}" y2="${originY + PANEL.height + 4}" stroke="#555555"/>`,
      `<text x="${number(px(day))}" y="${originY + PANEL.height + 17}" text-anchor="middle" font-size="11">${day}</text>`,
    );
  const temperatures = [...new Set(data.map((d) => d.temperatureC))].sort((a, b) => a - b);
  // Colours go by rank: the reference temperature always has the middle one.
  const strokeOf = (t) => STROKES[t < curve.referenceC ? 0 : t === curve.referenceC ? 1 : 2];
  temperatures.forEach((t, i) => {
    const { color, dash } = strokeOf(t);
    const steps = Array.from({ length: LAST_DAY + 1 }, (_, day) => day);
    const line = steps.map((day) => `${number(px(day))} ${number(py(available(curve, day, t)))}`).join("L");
    out.push(
      `<path d="M${line}" fill="none" stroke="${color}" stroke-width="2"${dash ? ` stroke-dasharray="${dash}"` : ""}/>`,
    );
    const legendX = originX + PANEL.width - 66 * (temperatures.length - i);
    out.push(
      `<line x1="${legendX}" y1="${originY - 16}" x2="${legendX + 24}" y2="${originY - 16}" stroke="${color}" stroke-width="2"${dash ? ` stroke-dasharray="${dash}"` : ""}/>`,
      `<text x="${legendX + 28}" y="${originY - 12}" font-size="11">${t} °C</text>`,
    );
  });
  for (const d of data) {
    const { color, marker } = strokeOf(d.temperatureC);
    // Bars of one day are side by side.
    const sameDay = data.filter((other) => other.days === d.days && other.high > other.low);
    const x = px(d.days) + (d.high > d.low ? 12 * (sameDay.indexOf(d) - (sameDay.length - 1) / 2) : 0);
    out.push(`<g><title>${d.what}</title>`);
    if (d.high > d.low)
      out.push(
        `<path d="M${number(x - 5)} ${number(py(d.low))}h10M${number(x - 5)} ${number(py(d.high))}h10M${number(x)} ${number(py(d.low))}V${number(py(d.high))}" fill="none" stroke="${color}" stroke-width="2"/>`,
      );
    else out.push(mark(marker, x, py(d.low), color));
    out.push("</g>");
  }
  return out.join("\n");
}

/** The whole chart as SVG text. */
function releaseChart(classes) {
  const width = PANEL.left + 2 * PANEL.width + PANEL.gapX + 24;
  const rows = Math.ceil(DRAWN.length / 2);
  const height = PANEL.top + rows * PANEL.height + (rows - 1) * PANEL.gapY + 88;
  const panels = DRAWN.map((name, i) =>
    panel(
      name,
      classes[name],
      PANEL.left + (i % 2) * (PANEL.width + PANEL.gapX),
      PANEL.top + Math.floor(i / 2) * (PANEL.height + PANEL.gapY),
    ),
  );
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${height}" viewBox="0 0 ${width} ${height}" font-family="sans-serif" fill="#222222" role="img" aria-label="Release classes against published figures">
<rect width="${width}" height="${height}" fill="#ffffff"/>
<text x="${PANEL.left}" y="24" font-size="16" font-weight="bold">Share of the nitrogen that has become available</text>
${panels.join("\n")}
<text x="${PANEL.left}" y="${height - 46}" font-size="12">Days after it was applied. Lines: the class, at the soil temperature named.</text>
<text x="${PANEL.left}" y="${height - 29}" font-size="12">Marks and bars: published figures and ranges at the same temperature, side by side where they share a day.</text>
<text x="${PANEL.left}" y="${height - 12}" font-size="12">The class at-once is a flat line at 100 % and is not drawn.</text>
</svg>
`;
}

const { RELEASE_CLASSES } = await exportsOf("src/files/release-classes.ts");
const { RELEASE_DATA } = await exportsOf("tests/recipes/release-data.ts");
const classes = Object.entries(RELEASE_CLASSES).map(([name, one]) => [
  name,
  { ...one, data: RELEASE_DATA[name] },
]);
const chart = releaseChart(Object.fromEntries(classes));
if (process.argv.includes("--stdout")) process.stdout.write(chart);
else writeFileSync(new URL("recipes/release-classes.svg", root), chart);

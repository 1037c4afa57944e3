// Pictures of every screen, to be looked at: node screens.mjs FOLDER
import { mkdirSync } from "node:fs";
import { join } from "node:path";

import { browser, open, size, until } from "./harness.mjs";

const folder = process.argv[2];
if (!folder) throw new Error("name a folder for the pictures");
mkdirSync(folder, { recursive: true });
const SIZES = [[360, 740], [1366, 768], [2560, 1440], [320, 640]];
const one = await browser();
const page = await open(one);
page.on("dialog", (dialog) => dialog.accept());

const shoot = async (name) => {
  for (const [width, height] of SIZES) {
    await size(page, width, height);
    await new Promise((then) => setTimeout(then, 150));
    await page.screenshot({ path: join(folder, `${name}-${width}.png`), fullPage: width !== 2560 });
  }
};

const SCREENS = {
  learn: async () => page.evaluate(() => go("learn")),
  practise: async () => page.evaluate(() => {
    go("practise/rowan/7");
    setTimeout(() => {
      for (let i = 0; i < 4; i += 1) oneBreath();
      enter("listen");
      enter("look");
      enter("alarm peak 3");
    }, 100);
  }),
  explore: async () => page.evaluate(() => go("explore/base=first-breaths-and-a-leak&flow=3&fault=kinked-tube:60")),
  bench: async () => page.evaluate(() => go("bench")),
  figures: async () => page.evaluate(() => go("figures/small-leak")),
  write: async () => page.evaluate(() => go("write")),
  class: async () => page.evaluate(() => go("class")),
  "look-up": async () => page.evaluate(() => go("look-up")),
};
const only = process.argv[3];
for (const scheme of ["light", "dark"]) {
  await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: scheme }]);
  for (const [name, show] of Object.entries(SCREENS)) {
    if (only && name !== only) continue;
    await show();
    await new Promise((then) => setTimeout(then, 600));
    await shoot(`${scheme}-${name}`);
    if (name === "practise") {
      await page.evaluate(() => endPractice());
      await until(page, () => document.querySelector(".debrief") !== null);
      await shoot(`${scheme}-debrief`);
    }
  }
}
const client = await page.createCDPSession();
await client.send("Emulation.setEmulatedMedia", { features: [{ name: "forced-colors", value: "active" }] });
for (const [name, show] of Object.entries(SCREENS)) {
  if (only && name !== only) continue;
  await show();
  await new Promise((then) => setTimeout(then, 600));
  await size(page, 1366, 768);
  await page.screenshot({ path: join(folder, `forced-${name}.png`), fullPage: true });
}
await client.send("Emulation.setEmulatedMedia", { media: "print", features: [] });
for (const [name, show] of Object.entries(SCREENS)) {
  if (only && name !== only) continue;
  await show();
  await new Promise((then) => setTimeout(then, 600));
  await size(page, 794, 1123);
  await page.screenshot({ path: join(folder, `print-${name}.png`), fullPage: true });
}
await one.close();
console.log(page.wrongs.join("\n") || "nothing went wrong");

// The light page practises and explores, and has nothing that leads to what it lacks.
import assert from "node:assert/strict";
import { statSync } from "node:fs";
import { after, before, test } from "node:test";

import { ask, browser, light, open, press, reads, until } from "../harness.mjs";

let one;
before(async () => { one = await browser(); });
after(() => one.close());

test("the light page is small, practises, explains and explores", async () => {
  assert.ok(statSync(light).size <= 1_200_000, `${statSync(light).size} bytes`);
  const page = await open(one, "", async () => {}, light);
  const links = await page.$$eval("#parts a", (all) => all.map((link) => link.textContent));
  assert.deepEqual(links, ["Lessons", "Explore", "Look up"]);
  const { lessons } = await ask(page, "shelf");
  assert.equal(await page.$$eval("ol.lessons li", (all) => all.length), lessons.length);
  for (const lesson of lessons) {
    await page.evaluate((id) => go(`practise/${id}/7`), lesson.id);
    await until(page, (title) => document.querySelector("h1")?.textContent === title, lesson.title);
    await page.evaluate(() => { oneBreath(); endPractice(); });
    await until(page, () => document.querySelector("h1")?.textContent.startsWith("Debrief"));
  }
  assert.ok(await page.$(".debrief figure svg"));
  await page.evaluate(() => go("explore/base=first-breaths-and-a-leak&flow=3&gas"));
  await until(page, () => document.querySelector("table")?.textContent.includes("EtCO2"));
  await press(page, "why? rate, /min");
  await until(page, () => document.querySelector(".relation").textContent.length > 40);
  await page.evaluate(() => go("look-up"));
  await reads(page, "Typical animals");
  // An address of a room that is not there leads to the lessons.
  await page.evaluate(() => go("bench"));
  await until(page, () => document.querySelector("h1")?.textContent === "Lessons");
  await page.evaluate(() => keep.erase());
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

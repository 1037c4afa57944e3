// Exploring: sliders by mouse and key, before and after, relations, links, files.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";

import { browser, downloaded, open, press, reads, until } from "../harness.mjs";

let one;
before(async () => { one = await browser(); });
after(() => one.close());

const row = (page, name) => page.$$eval("table tbody tr", (rows, name) => {
  const found = rows.find((one) => one.firstChild.textContent === name);
  return [...found.children].map((cell) => cell.textContent);
}, name);

test("a slider changes the breath at once, keys go in round steps, the address follows", async () => {
  const page = await open(one, "explore");
  const [, before] = await row(page, "inspiratory time");
  await page.focus("input[type=range]");
  for (let i = 0; i < 5; i += 1) await page.keyboard.press("PageUp");
  await until(page, () => location.hash.includes("flow="));
  await until(page, () => document.querySelector("table").textContent.includes("↓ down"));
  const told = await row(page, "inspiratory time");
  assert.equal(told[1], before, "what was before stays");
  assert.ok(parseFloat(told[2]) < parseFloat(before), told.join());
  const flow = await page.evaluate(() => explored.now.set.flow);
  assert.equal(flow, Number(flow.toFixed(2)), "a round number");
  await page.keyboard.down("Shift");
  await page.keyboard.press("ArrowUp");
  await page.keyboard.up("Shift");
  assert.ok(await page.evaluate((flow) => explored.now.set.flow > flow && explored.now.set.flow < flow + 0.05, flow));
  // A link brings the same state to another page.
  const hash = await page.evaluate(() => location.hash.slice(1));
  const other = await open(one, hash);
  assert.deepEqual(await row(other, "inspiratory time").then((cells) => cells[2]), (await row(page, "inspiratory time"))[2]);
  assert.deepEqual([...page.wrongs, ...other.wrongs], []);
  await other.close();
  await page.close();
});

test("a fault, the relation behind a number, a prediction, and a scenario of it", async () => {
  const page = await open(one, "explore");
  await page.select("select:has(option[value='kinked-tube'])", "kinked-tube");
  await until(page, () => document.querySelector("table").textContent.includes("up"));
  await press(page, "why? rate, /min");
  await until(page, () => /60 \/ \(.* s\) = .* breaths a minute/.test(document.querySelector(".relation").innerText));
  await page.click("label:has(input[type=checkbox]) ::-p-text(Let me predict first)");
  await reads(page, "What will become of");
  const guess = await page.$(".predict select");
  await guess.select("↓ down");
  await press(page, "Show it");
  await reads(page, /[012] of 3 as you said/);
  await press(page, "Save the scenario");
  const saved = await downloaded(one, "my-breath.ron");
  assert.match(saved.bytes.toString(), /KinkedTube/);
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

test("gas settles, an impossible state is told with a mend, and one comes back from it", async () => {
  const page = await open(one, "explore/base=first-breaths-and-a-leak&gas");
  await until(page, () => document.querySelector("table").textContent.includes("EtCO2"));
  const write = (value) => page.$eval("input[aria-label^='cycling pressure']", (input, value) => {
    input.value = value;
    input.dispatchEvent(new Event("change"));
  }, value);
  await write("4000");
  await until(page, () => document.querySelector(".wrong") !== null);
  await write("9");
  await until(page, () => document.querySelector(".wrong") === null);
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

test("a scenario of one's own travels in the link", async () => {
  const page = await open(one, "write");
  await reads(page, "No faults.");
  await press(page, "Explore its breath");
  await reads(page, "The settled breath");
  await page.evaluate(() => {
    // A page from disk may not write to the clipboard in every browser.
    Object.defineProperty(window, "isSecureContext", { value: false });
    change({ fault: "kinked-tube", severity_percent: 60 });
  });
  await until(page, () => document.querySelector("table").textContent.includes("up"));
  const rate = await row(page, "rate");
  await press(page, "Copy the link");
  await until(page, () => document.querySelector(".relation input") !== null);
  const link = await page.$eval(".relation input", (input) => input.value);
  const other = await open(one, link.split("#")[1]);
  await reads(other, "The settled breath");
  assert.equal((await row(other, "rate"))[2], rate[2]);
  const broken = await open(one, link.split("#")[1].slice(0, -40));
  await reads(broken, "The link is not whole");
  assert.deepEqual([...page.wrongs, ...other.wrongs, ...broken.wrongs], []);
  await Promise.all([page, other, broken].map((one) => one.close()));
});

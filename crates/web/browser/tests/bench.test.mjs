// A circuit put together by keyboard, by pointer and by touch, with its drawing and checks.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";

import { browser, isChromium, open, press, reads, until } from "../harness.mjs";

let one;
before(async () => { one = await browser(); });
after(() => one.close());

const port = (page, name) => page.$(`button[data-port="${name}"]`);
const reading = (page) => page.$eval("section.came", (section) => section.textContent);
const isOn = (page, name) => page.$eval(`button[data-port="${name}"]`, (one) => / on /.test(one.textContent));
const lines = (page) => page.$$eval(".lines path", (all) => all.length);

/** The middle of a port's knob, brought into sight. */
async function knob(page, name) {
  return page.$eval(`[data-of="${name}"] .knob-of-port`, (one) => {
    one.scrollIntoView({ block: "center" });
    const { left, top, width, height } = one.getBoundingClientRect();
    return { x: left + width / 2, y: top + height / 2 };
  });
}

test("by keyboard alone a port is parted and joined, and the drawing and the breath follow", async () => {
  const page = await open(one, "bench");
  const right = await reading(page);
  const drawn = await page.$eval(".drawn svg", (svg) => svg.outerHTML);
  const whole = await lines(page);
  await (await port(page, "ventilator.sensing")).focus();
  await page.keyboard.press("Enter");
  await until(page, () => /ended bytime|time limit|No breath/.test(document.querySelector("section.came").textContent));
  assert.notEqual(await reading(page), right);
  assert.equal(await lines(page), whole - 1);
  assert.notEqual(await page.$eval(".drawn svg", (svg) => svg.outerHTML), drawn);
  await page.keyboard.press("Enter");
  await until(page, () => document.querySelector("button.fits") !== null);
  await (await page.$("button.fits")).focus();
  await page.keyboard.press("Enter");
  await until(page, () => / on /.test(document.querySelector('button[data-port="ventilator.sensing"]').textContent));
  assert.equal(await reading(page), right);
  await press(page, "Take back the last step");
  await until(page, () => !/ on /.test(document.querySelector('button[data-port="ventilator.sensing"]').textContent));
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

test("a line is pulled off and pulled on with a mouse", async () => {
  const page = await open(one, "bench");
  const right = await reading(page);
  let from = await knob(page, "t-piece.limb");
  await page.mouse.move(from.x, from.y);
  await page.mouse.down();
  await page.mouse.move(from.x + 60, from.y + 5, { steps: 4 });
  assert.equal(await page.$$eval(".lines .pulled", (all) => all.length), 1);
  await page.mouse.up();
  await until(page, () => !/ on /.test(document.querySelector('button[data-port="t-piece.limb"]').textContent));
  const a = await knob(page, "t-piece.limb");
  const b = await page.$eval('[data-of="limb.near"] .knob-of-port', (one) => {
    const { left, top, width, height } = one.getBoundingClientRect();
    return { x: left + width / 2, y: top + height / 2 };
  });
  await page.mouse.move(a.x, a.y);
  await page.mouse.down();
  await page.mouse.move(b.x, b.y, { steps: 6 });
  await page.mouse.up();
  await until(page, () => / on /.test(document.querySelector('button[data-port="t-piece.limb"]').textContent));
  assert.equal(await reading(page), right);
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

test("and by touch", { skip: !isChromium && "touch is sent over CDP" }, async () => {
  const page = await open(one, "bench");
  const from = await knob(page, "waste-tube.neck");
  const touch = await page.touchscreen.touchStart(from.x, from.y);
  await touch.move(from.x + 30, from.y);
  await touch.move(from.x + 70, from.y);
  await touch.end();
  await until(page, () => !/ on /.test(document.querySelector('button[data-port="waste-tube.neck"]').textContent));
  assert.equal(await isOn(page, "ventilator.outlet"), false);
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

test("a circuit is put together from parts on the table", async () => {
  const page = await open(one, "bench");
  await press(page, "All parts on the table");
  await reads(page, "It is not yet the whole circuit.");
  await reads(page, "It cannot be drawn yet");
  assert.equal(await lines(page), 0);
  const joints = [["gas-supply.out", "flowmeter.in"], ["flowmeter.nipple", "hose.machine-end"], ["hose.patient-end", "t-piece.fresh-gas"],
    ["t-piece.patient", "connector.far"], ["connector.near", "patient.tube"], ["t-piece.limb", "limb.near"],
    ["limb.far", "ventilator.patient-side"], ["t-piece.sense", "sensing-line.line-far"], ["sensing-line.line-near", "ventilator.sensing"],
    ["ventilator.outlet", "waste-tube.neck"]];
  for (const [a, b] of joints) {
    await (await port(page, a)).click();
    await until(page, (a) => document.querySelector(`button[data-port="${a}"]`).getAttribute("aria-pressed") === "true", a);
    await (await port(page, b)).click();
    await until(page, (a) => / on /.test(document.querySelector(`button[data-port="${a}"]`).textContent), a);
  }
  await reads(page, "This is the circuit that was meant.");
  assert.ok(await page.$(".drawn svg"));
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

test("the checks of the morning tell a tight circuit from one that is not", async () => {
  const page = await open(one, "bench");
  const check = async (does) => {
    await press(page, does);
    await until(page, (does) => [...document.querySelectorAll(".check")].some((one) =>
      one.querySelector("button").textContent === does && one.querySelector(".came-of").textContent !== ""), does);
    return page.$$eval(".check", (all, does) => all.find((one) => one.querySelector("button").textContent === does).querySelector(".came-of").textContent, does);
  };
  await page.$eval(".check input", (input) => { input.value = "3"; });
  assert.match(await check("Press"), / the ventilator cycles\./);
  assert.match(await check("Hold the port shut"), /short cycles a minute/);
  assert.match(await check("Read them"), /Use it: service is near/);
  // With the sensing line off it does not cycle in either test.
  await (await port(page, "ventilator.sensing")).click();
  await until(page, () => !/ on /.test(document.querySelector('button[data-port="ventilator.sensing"]').textContent));
  await page.$eval(".check input", (input) => { input.value = "3"; });
  assert.match(await check("Press"), /does not cycle/);
  assert.match(await check("Hold the port shut"), /It does not cycle by pressure/);
  await press(page, "Find a mistake");
  await reads(page, "Something is put together wrongly.");
  await press(page, "What is it?");
  await until(page, () => document.querySelector(".relation").textContent.length > 40);
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

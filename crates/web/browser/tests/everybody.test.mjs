// For everybody: no violation that axe knows, no sideways scrolling, a whole lesson by
// keyboard alone and one by the accessibility tree alone.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { after, before, test } from "node:test";

import { browser, click, isChromium, open, reads, size, until } from "../harness.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
let one;
before(async () => { one = await browser(); });
after(() => one.close());

const SCREENS = ["learn", "practise/juno/7", "practise/rowan/7", "explore", "bench", "figures", "figures/small-leak", "write", "class", "look-up"];

async function violations(page, where) {
  await page.evaluate(axe);
  const found = await page.evaluate(() => axe.run(document, {
    runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
  }));
  const told = found.violations.map((one) => `${where}: ${one.id}: ${one.nodes.map((node) => node.html.slice(0, 120)).join(" | ")}`);
  assert.deepEqual(told, []);
}

async function states(page) {
  for (const screen of SCREENS) {
    await page.evaluate((screen) => go(screen), screen);
    await until(page, () => document.querySelector("h1") !== null);
    if (screen.startsWith("practise")) {
      await page.evaluate(() => {
        oneBreath();
        for (const line of ["listen", "look", "alarm peak 2"]) enter(line);
        document.querySelector("details.alarms").open = true;
      });
    }
    await check(page, screen);
  }
  await page.evaluate(() => {
    bench.start = "apart";
    go("bench");
  });
  await page.click('button[data-port="limb.far"]');
  await check(page, "a bench on which nothing is joined");
  await page.evaluate(() => {
    exam.waits = { file: "exam.sealed", text: "Sealed(" };
    go("exam");
  });
  await reads(page, "Type the passphrase");
  await check(page, "an exam");
  await page.evaluate(() => go("practise"));
  await until(page, () => Boolean(practice.lesson && live.canvas));
  await page.evaluate(() => endPractice());
  await reads(page, "What happened");
  await check(page, "debrief");
  await page.evaluate(() => go("learn"));
  await reads(page, "Attempts, the latest first");
  await check(page, "attempts");
  await page.evaluate(() => keep.erase());
}

async function check(page, where) {
  await violations(page, where);
  // This Firefox lets nobody set the size of its view.
  if (!isChromium) return;
  for (const width of [320, 360]) {
    await size(page, width, 740);
    assert.equal(await page.evaluate(() => innerWidth), width);
    const wider = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    assert.ok(wider <= 0, `${where} is ${wider} px too wide at ${width} px`);
    if (width === 320) await violations(page, `${where} at 320 px`);
  }
  await size(page, 1366, 768);
}

for (const scheme of isChromium ? ["light", "dark"] : ["light"]) {
  test(`nothing to complain of in the ${scheme} theme, wide and narrow`, async () => {
    const page = await open(one, "", async (page) => {
      if (isChromium) await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: scheme }]);
    });
    await states(page);
    assert.deepEqual(page.wrongs, []);
    await page.close();
  });
}

/** Goes on with Tab until what has the focus is called so. */
async function tabTo(page, name) {
  for (let i = 0; i < 120; i += 1) {
    await page.keyboard.press("Tab");
    const focused = await page.evaluate(() => {
      const on = document.activeElement;
      return on.getAttribute("aria-label") || (on.labels && on.labels.length > 0 ? on.labels[0].textContent : on.textContent) || "";
    });
    if (focused.trim() === name) return;
  }
  assert.fail(`Tab never comes to ${name}`);
}

test("a whole lesson by keyboard alone", async () => {
  const page = await open(one);
  await tabTo(page, await page.$eval("ol.lessons a", (link) => link.textContent));
  await page.keyboard.press("Enter");
  await reads(page, "The case");
  await tabTo(page, "Start the clock");
  await page.keyboard.press("Enter");
  await until(page, () => engine.curves().now > 1);
  await page.keyboard.press("F2");
  await until(page, () => /Monitor:/.test(byId("says").textContent));
  await tabTo(page, "Type an act");
  await page.keyboard.type("look");
  await page.keyboard.press("Enter");
  await reads(page, /\d+ s look: /);
  await page.keyboard.down("Shift");
  for (let i = 0; i < 60; i += 1) {
    await page.keyboard.press("Tab");
    if (await page.evaluate(() => document.activeElement.textContent === "End and debrief")) break;
  }
  await page.keyboard.up("Shift");
  await page.keyboard.press("Enter");
  await reads(page, "What happened");
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

test("a whole lesson by the accessibility tree alone", { skip: !isChromium && "the tree is read over CDP" }, async () => {
  const page = await open(one);
  /** What a screen reader finds: roles and names, in order. */
  const tree = async () => {
    const all = [];
    const walk = (node) => {
      all.push(node);
      (node.children || []).forEach(walk);
    };
    walk(await page.accessibility.snapshot({ interestingOnly: true }));
    return all;
  };
  const doIt = (name, role) => click(page, name, role);
  const links = (await tree()).filter((node) => node.role === "link").map((node) => node.name);
  const first = links.find((name) => name.startsWith("Bench:"));
  assert.ok(first, links.join());
  await doIt(first, "link");
  await until(page, () => Boolean(practice.lesson));
  const found = await tree();
  for (const [role, name] of [["heading", first], ["button", "Start the clock"], ["image", /^Curves: /], ["combobox", "Type an act"]]) {
    const has = (node) => node.role === role && (name instanceof RegExp ? name.test(node.name) : node.name === name);
    assert.ok(found.some(has), `${role} ${name}`);
  }
  await doIt("One breath on", "button");
  await doIt("look", "button");
  await until(page, () => byId("says").textContent.includes("look"));
  const radio = (await tree()).find((node) => node.role === "radio");
  if (radio) {
    await doIt(radio.name, "radio");
    await doIt("Answer", "button");
  }
  await doIt("End and debrief", "button");
  await until(page, () => document.querySelector("h1").textContent.startsWith("Debrief"));
  const told = (await tree()).filter((node) => node.role === "heading").map((node) => node.name);
  assert.ok(told.some((name) => name.includes("What happened")), told.join());
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

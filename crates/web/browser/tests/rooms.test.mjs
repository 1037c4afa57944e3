// Figures, writing, hand-outs, the class and what is looked up.
import assert from "node:assert/strict";
import { statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";

import { ask, browser, downloaded, file, labelled, named, open, press, reads, root, until } from "../harness.mjs";

let one;
before(async () => { one = await browser(); });
after(() => one.close());

test("the file is small enough to be sent by mail", () => {
  assert.ok(statSync(file).size <= 3_000_000, `${statSync(file).size} bytes`);
});

test("a figure of the gallery is found, shown, turned into a quiz and saved in every kind", async () => {
  const page = await open(one, "figures");
  const find = await named(page, "Find", "searchbox");
  await find.type("only takes time");
  await until(page, () => document.querySelectorAll("ul.figures li").length === 1);
  await page.click("ul.figures a");
  await until(page, () => document.querySelector("figure svg") !== null);
  assert.match(await page.$eval("figure svg", (svg) => svg.textContent), /leak flow/);
  await press(page, "Student's version");
  await until(page, () => !document.querySelector("figure svg").textContent.includes("leak flow"));
  for (const kind of ["SVG", "CSV", "PDF", "PNG"]) {
    await press(page, `Save ${kind}`);
    const { bytes } = await downloaded(one, `.${kind.toLowerCase()}`);
    assert.ok(bytes.length > 500, kind);
  }
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

test("an own figure file and an own scenario are drawn", async () => {
  const page = await open(one, "figures");
  const { text } = await ask(page, "text", { of: "first-breaths" });
  const path = join(one.folder, "own.ron");
  writeFileSync(path, text.replaceAll("Pepper", "Nutmeg"));
  const input = await page.$("input[type=file]");
  await input.uploadFile(path);
  await until(page, () => document.querySelector("figure svg") !== null);
  assert.match(await page.$eval("figure svg", (svg) => svg.textContent), /Nutmeg/);
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

test("faults are told at their place while typing, a button goes there, and a mended text runs", async () => {
  const page = await open(one, "write");
  await reads(page, "No faults.");
  const edit = await page.$("textarea");
  const text = await edit.evaluate((one) => one.value);
  await edit.evaluate((one) => {
    one.value = one.value.replace("cycling_pressure_cmh2o: 8", "cycling_pressure_cmh2o: -8");
    one.dispatchEvent(new Event("input"));
  });
  await reads(page, "cannot be -8");
  await page.click(".faults button");
  assert.equal(await edit.evaluate((one) => one.value.slice(one.selectionStart, one.selectionEnd)), "-8");
  await page.keyboard.type("9");
  await reads(page, "No faults.");
  assert.equal(await edit.evaluate((one) => one.value), text.replace("cmh2o: 8,", "cmh2o: 9,"));
  await press(page, "Run it");
  await reads(page, "What happened");
  assert.ok(await page.$("figure svg") && await page.$("pre"));
  await press(page, "Save the report as JSON");
  const report = JSON.parse((await downloaded(one, ".json")).bytes);
  assert.ok(report.breaths.length > 10);
  for (const [words, ending] of [["Make HTML", ".html"], ["Make PDF", ".pdf"]]) {
    await press(page, words);
    assert.ok((await downloaded(one, ending)).bytes.length > 2000, words);
  }
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

test("a class is dealt, a dealt file is practised, and its log is marked", async () => {
  const page = await open(one, "class");
  const roster = await page.$("textarea");
  await roster.type("heron-12\nwren-3\n");
  await page.select("section[aria-label=Deal] select", "juno-the-loose-joint");
  await press(page, "Deal");
  await press(page, "juno-wren-3.dealt.ron");
  const dealt = await downloaded(one, "wren-3.dealt.ron");
  const path = join(one.folder, "wren.ron");
  writeFileSync(path, dealt.bytes);
  await page.evaluate(() => go("learn"));
  await reads(page, "A lesson, an exam or a dealt file of your own");
  await (await page.$("input[type=file]")).uploadFile(path);
  await reads(page, "Start the clock");
  await press(page, "One breath on");
  await press(page, "Save the record");
  const record = await downloaded(one, ".attempt.ron");
  assert.match(record.bytes.toString(), /wren-3/);
  writeFileSync(path, record.bytes);
  await page.evaluate(() => go("class"));
  await page.select("section[aria-label=Mark] select", "juno-the-loose-joint");
  await (await page.$("section[aria-label=Mark] input[type=file]")).uploadFile(path);
  await reads(page, "1 log.");
  await press(page, "Mark them");
  await reads(page, "not passed");
  await press(page, "Save the marks");
  assert.match((await downloaded(one, "marks.csv")).bytes.toString(), /wren-3/);
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

test("words, animals and signs are looked up", async () => {
  const page = await open(one, "look-up");
  const find = await named(page, "Find in words and format", "searchbox");
  await find.type("kink");
  await until(page, () => document.querySelectorAll("dl.words dt").length < 6);
  await reads(page, "kinked tube");
  await press(page, "Show");
  await reads(page, "19 of 20 animals");
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

test("a field that a block lacks is put in where the cursor stands, and a lesson is proved", async () => {
  const page = await open(one, "write");
  await reads(page, "No faults.");
  const edit = await page.$("textarea");
  await edit.evaluate((one) => {
    const at = one.value.indexOf("species");
    one.focus();
    one.setSelectionRange(at, at);
    one.dispatchEvent(new Event("keyup"));
  });
  await reads(page, "Fields that Patient may have still");
  const before = await edit.evaluate((one) => one.value);
  await page.$eval(".insert select", (select) => {
    select.value = [...select.options].find((one) => one.textContent === "posture").value;
    select.dispatchEvent(new Event("change"));
  });
  await press(page, "Put it in");
  await until(page, (before) => document.querySelector("textarea").value.length > before.length, before);
  assert.match(await edit.evaluate((one) => one.value), /\n +posture: Lateral,/);
  await reads(page, "No faults.");
  await page.keyboard.down("Control");
  await page.keyboard.press("z");
  await page.keyboard.up("Control");
  assert.equal(await edit.evaluate((one) => one.value), before, "it can be undone");

  await page.evaluate(() => go("write/tansy-a-stiff-chest"));
  await reads(page, "No faults.");
  await press(page, "Prove it");
  await reads(page, "a proof needs an expert");
  const expert = join(root, "scenarios/training/attempts/tansy-a-stiff-chest/expert.ron");
  await (await labelled(page, "Records of experts")).uploadFile(expert);
  await reads(page, "1 opened.");
  await press(page, "Prove it");
  await reads(page, "Its marks are just.");
  await press(page, "Save the proof as JSON");
  assert.equal(JSON.parse((await downloaded(one, "proof.json")).bytes).proved, true);
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

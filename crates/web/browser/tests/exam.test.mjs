// An exam from the teacher's class room to the student's log and back to the marks.
import assert from "node:assert/strict";
import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";

import { browser, downloaded, isChromium, labelled, named, open, press, reads, ready, until } from "../harness.mjs";

const LESSON = "juno-the-loose-joint";
const PASSPHRASE = "correct horse";
let one;
before(async () => { one = await browser(); });
after(() => one.close());

const type = async (page, name, text) => (await named(page, name)).type(text);

test("an exam is sealed, sat, broken off, gone on with, handed in and marked by its key", async () => {
  const page = await open(one, "class");
  await page.select("section[aria-label=Deal] select", LESSON);
  await (await page.$("section[aria-label=Deal] textarea")).type("heron-1\nwren-3\n");
  await type(page, "Passphrase, to deal sealed exams (empty for practice)", PASSPHRASE);
  await press(page, "Deal");
  await reads(page, "2 exams are sealed");
  await press(page, "Save the key");
  const key = join(one.folder, "key.csv");
  writeFileSync(key, (await downloaded(one, "-key.csv")).bytes);
  await press(page, "exam-heron-1.sealed");
  const sealed = join(one.folder, "heron.sealed");
  const { bytes } = await downloaded(one, "exam-heron-1.sealed");
  assert.ok(!/juno|criteria|reseat/i.test(bytes.toString()));
  writeFileSync(sealed, bytes);

  await page.evaluate(() => go("learn"));
  await reads(page, "A lesson, an exam or a dealt file");
  await (await page.$("input[type=file]")).uploadFile(sealed);
  await reads(page, "Type the passphrase");
  await type(page, "Passphrase", "wrong horse");
  await page.keyboard.press("Enter");
  await reads(page, "the passphrase is another");
  await type(page, "Passphrase", PASSPHRASE);
  await page.keyboard.press("Enter");
  await reads(page, "Exam, sitting 1 on this machine");
  const buttons = await page.$$eval("main button", (all) => all.map((one) => one.textContent));
  assert.ok(!buttons.includes("A hint") && !buttons.includes("End and debrief"));
  assert.ok(!/juno|criteri|reseats/i.test(await page.$eval("main", (main) => main.innerText)));
  await press(page, "One breath on");
  await press(page, "listen");
  await reads(page, /\d+ s listen: /);
  assert.ok(!JSON.stringify(await page.evaluate(() => ({ ...localStorage }))).includes(PASSPHRASE), "the passphrase is not kept");

  await page.reload();
  await ready(page);
  await page.evaluate(() => go("learn"));
  await press(page, "Go on where you were");
  await type(page, "Passphrase", PASSPHRASE);
  await press(page, "Go on");
  await reads(page, "Exam, sitting 1 on this machine");
  await press(page, "One breath on");
  await press(page, "End the exam");
  await reads(page, "The exam is over");
  assert.ok(!(await page.evaluate(() => document.body.innerText)).includes("points"));
  await press(page, "Save the log");
  const record = await downloaded(one, "exam-heron-1.attempt.ron");
  await press(page, "All lessons");
  await reads(page, "exam, sitting 1");
  await reads(page, "your teacher marks it");

  const handed = join(one.folder, "handed");
  mkdirSync(handed);
  writeFileSync(join(handed, "heron.ron"), record.bytes);
  writeFileSync(join(handed, "changed.ron"), record.bytes.toString().replace("Listen", "Look"));
  writeFileSync(join(handed, "notes.txt"), "no log");
  await page.evaluate(() => go("class"));
  await page.select("section[aria-label=Mark] select", LESSON);
  if (isChromium) {
    await (await labelled(page, "Or a folder of them")).uploadFile(handed);
    await reads(page, "2 logs. 1 other files are left alone.");
  } else {
    await (await page.$("section[aria-label=Mark] input[type=file]")).uploadFile(join(handed, "heron.ron"), join(handed, "changed.ron"));
    await reads(page, "2 logs.");
  }
  await (await labelled(page, "The key, to compare with what was dealt")).uploadFile(key);
  await press(page, "Mark them");
  await reads(page, "exam exam-heron-1, sitting 1, as it was kept");
  await reads(page, "sitting 1, CHANGED");
  await reads(page, "as dealt");
  assert.deepEqual(page.wrongs, []);
  await page.evaluate(() => keep.erase());
  await page.close();
});

test("a second sitting is counted, and a failed model changes nothing of an exam", async () => {
  const page = await open(one, "class");
  const { files, key } = await page.evaluate((lesson, passphrase) =>
    engine.ask("deal", { lesson, roster: "pseudonym\nmoor-9\n", seed: 3, passphrase }), LESSON, PASSPHRASE);
  const log = await page.evaluate((file, passphrase) => {
    const sealed = { file: file.file, text: file.text, passphrase };
    beginExam(sealed);
    beginExam(sealed);
    engine.ask("go");
    engine.advance(5);
    live.now = engine.curves().now;
    practice.runs = true;
    engine.ask("enter", { line: "look" });
    keepLog();
    // A question that no memory holds: the model ends there and is begun anew.
    try {
      engine.door.question(-1);
    } catch { /* as it must be */ }
    engine.ask("view");
    engine.advance(5);
    engine.ask("enter", { line: "listen" });
    keepLog();
    return { record: practice.record, number: practice.lesson.exam };
  }, files[0], PASSPHRASE);
  assert.equal(log.number, 2);
  const rows = await page.evaluate((lesson, record, key) =>
    engine.ask("mark_class", { lesson, files: [["a.ron", record]], key, semicolon: false }).rows, LESSON, log.record, key.text);
  assert.equal(rows[0].kind, "exam exam-moor-9, sitting 2, as it was kept");
  assert.match(log.record, /by: Fault/);
  assert.deepEqual(page.wrongs, []);
  await page.evaluate(() => { practice.lesson = null; keep.erase(); });
  await page.close();
});

// A lesson as a student does it, from opening the file to the debrief.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";

import { ask, browser, click, downloaded, open, press, reads, until } from "../harness.mjs";

let one;
before(async () => { one = await browser(); });
after(() => one.close());

test("the lessons stand in their order and the first is begun, marked and explained", async () => {
  const page = await open(one);
  const shelf = await ask(page, "shelf");
  const titles = await page.$$eval("ol.lessons a", (links) => links.map((link) => link.textContent));
  assert.deepEqual(titles, shelf.lessons.map((lesson) => lesson.title));
  await click(page, titles[0], "link");
  await reads(page, "The case");
  await press(page, "Start the clock");
  await until(page, () => engine.curves().now > 1.5);
  await press(page, "Pause");
  const stood = await page.evaluate(() => engine.curves().now);
  await new Promise((then) => setTimeout(then, 400));
  assert.equal(await page.evaluate(() => engine.curves().now), stood, "paused time stands");
  await press(page, "One breath on");
  assert.ok(await page.evaluate(() => engine.curves().now) > stood);
  await press(page, "look");
  await reads(page, /\d+ s look: /);
  const typed = await page.$("input[list=act-words]");
  await typed.type("flow 5000");
  await page.keyboard.press("Enter");
  await until(page, () => byId("says").textContent.length > 10);
  await press(page, "End and debrief");
  await reads(page, "What happened");
  await reads(page, /of \d+ points/);
  await press(page, "Save the record");
  const record = await downloaded(one, ".attempt.ron");
  assert.match(record.bytes.toString(), /Attempt\(/);
  await press(page, "All lessons");
  await reads(page, "Attempts, the latest first");
  assert.deepEqual(page.wrongs, []);
  await press(page, "Erase all of it");
  assert.equal(await page.evaluate(() => localStorage.length), 0);
  await page.close();
});

test("every lesson begins, passes time by breaths, waits for predictions and is debriefed", async () => {
  const page = await open(one);
  for (const lesson of (await ask(page, "shelf")).lessons) {
    await page.evaluate((id) => go(`practise/${id}/7`), lesson.id);
    await until(page, (title) => document.querySelector("h1")?.textContent === title, lesson.title);
    for (let i = 0; i < 3; i += 1) {
      const predict = await page.$(".predict button");
      if (predict) await predict.click();
      else await page.evaluate(() => oneBreath());
    }
    assert.ok(await page.evaluate(() => live.now > 0), lesson.id);
    await page.evaluate(() => endPractice());
    await until(page, () => document.querySelector("h1")?.textContent.startsWith("Debrief"));
    assert.ok(await page.$(".debrief table"), lesson.id);
  }
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

test("an answer is given by a choice and then is asked no more", async () => {
  const page = await open(one, "practise/juno/3");
  await page.evaluate(() => oneBreath());
  const questions = await page.$$(".question");
  assert.ok(questions.length > 0);
  await (await questions[0].$("input[type=radio]")).click();
  await (await questions[0].$("button")).click();
  await until(page, (count) => document.querySelectorAll(".question").length === count - 1, questions.length);
  await reads(page, "Answered:");
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

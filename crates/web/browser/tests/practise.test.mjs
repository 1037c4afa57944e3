// A lesson as a student does it, from opening the file to the debrief.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";

import { ask, browser, click, downloaded, named, open, press, reads, until } from "../harness.mjs";

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

test("what waits for hands is shown and taken back, alarms are set and sound, time goes slower", async () => {
  const page = await open(one, "practise/juno/5");
  await press(page, "Start the clock");
  await until(page, () => live.now > 0.3);
  await press(page, "Pause");
  for (const act of ["occlude", "look", "supply"]) await press(page, act);
  await reads(page, "Waits until your hands are free");
  assert.equal(await page.$$eval(".hands li", (items) => items.length), 2);
  await press(page, "Take back: supply");
  await until(page, () => document.querySelectorAll(".hands li").length === 1);
  await until(page, () => /taken back/.test(byId("says").textContent));
  assert.equal(await page.evaluate(() => document.activeElement.textContent), "Take back");
  await press(page, "Slower");
  await reads(page, "time: 2 times slower");
  await press(page, "Faster");
  await press(page, "Faster");
  await reads(page, "time: 2 times faster");
  await press(page, "Go on");
  await reads(page, /done\./);
  await page.click("details.alarms summary");
  await (await named(page, "Limit")).type("2");
  await press(page, "Set the alarm");
  await until(page, () => document.querySelector(".set-alarms li") !== null);
  await reads(page, /Alarm: peak .* limit above 2 cmH2O/);
  await press(page, "Alarm off");
  await until(page, () => document.querySelector(".set-alarms li") === null);
  await page.evaluate(() => enter("pause"));
  assert.equal(await page.evaluate(() => practice.runs), false, "a typed word stops the clock, too");
  await page.evaluate(() => enter("go"));
  assert.equal(await page.evaluate(() => practice.runs), true);
  await press(page, "Pause");
  await press(page, "A hint");
  await until(page, () => /Too few breaths|gone|as at the start/.test(byId("says").textContent));
  await page.evaluate(() => { endPractice(); keep.erase(); });
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

test("attempts are listed with what comes next", async () => {
  const page = await open(one);
  await page.evaluate(() => {
    keep.erase();
    go("practise/juno/3");
  });
  await until(page, () => Boolean(practice.lesson && live.canvas));
  await page.evaluate(() => oneBreath());
  await page.evaluate(() => endPractice());
  await page.evaluate(() => go("learn"));
  const next = await page.$eval("section.next", (section) => section.innerText);
  assert.match(next, /tomorrow: .* not passed yet: again with a new seed, missed: /);
  assert.match(next, /today: Bench: .* new, the next in order/);
  assert.match(next, /\d+ more are new/);
  await page.evaluate(() => keep.erase());
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

// A reload, a killed tab and a failed model at random moments: the session goes on, and
// its log marks the same as that of one that was never broken.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";

import { ask, browser, open, ready } from "../harness.mjs";

/** How many times each; by hand 200: `BREAKS=200 node --test tests/recovery.test.mjs`. */
const TIMES = Number(process.env.BREAKS ?? 12);
/** Longest time between two breaks, s: all of them fall into the six minutes of the lesson. */
const LONGEST_S = Math.min(4.5, 600 / TIMES);
let one;
before(async () => { one = await browser(); });
after(() => one.close());

/** The same numbers on every run. */
function* random(seed) {
  for (let x = seed; ;) {
    x = (x * 1664525 + 1013904223) % 4294967296;
    yield x / 4294967296;
  }
}

/** What a student does, by turns. */
const LINES = ["look", "listen", "pulse", "occlude", "gauge", "flow 1.7", "expiration 3"];

/** Plays a lesson in uneven steps; `at` may break it between them. */
async function played(page, lesson, breaks, at) {
  const chance = random(20);
  await page.evaluate((id) => beginPractice({ lesson: id, seed: 11 }), lesson);
  await page.evaluate(() => {
    engine.ask("go");
    keepLog();
  });
  for (let step = 0; step < breaks; step += 1) {
    const passed = 0.1 + LONGEST_S * chance.next().value;
    const line = LINES[Math.floor(LINES.length * chance.next().value)];
    await page.evaluate((passed, line) => {
      engine.advance(passed);
      live.now = engine.curves().now;
      const asked = engine.ask("view").view.waits_for;
      engine.ask("enter", { line: asked ? `predict ${asked.id} up` : line });
      engine.ask("go");
      keepLog();
    }, passed, line);
    page = await at(page, step);
  }
  assert.equal((await ask(page, "view")).view.ended, null, "the lesson is still under way");
  const { log } = await ask(page, "log");
  return { page, log, marked: (await ask(page, "debrief")).json };
}

const LESSON = "juno-the-loose-joint";

for (const [name, break_] of [
  ["a reload", async (page) => {
    await page.reload();
    await ready(page);
    await page.evaluate(() => {
      takeUp();
      engine.ask("go");
    });
    return page;
  }],
  ["a killed tab", async (page) => {
    await page.close({ runBeforeUnload: false });
    const again = await open(one);
    await again.evaluate(() => {
      takeUp();
      engine.ask("go");
    });
    return again;
  }],
  ["a failed model", async (page) => {
    await page.evaluate(() => {
      // A question that no memory holds: a panic, after which the instance is of no use.
      try {
        engine.door.question(-1);
      } catch (error) {
        if (!(error instanceof WebAssembly.RuntimeError)) throw error;
      }
      practice.runs = true;
      engine.ask("view");
    });
    return page;
  }],
]) {
  test(`${name} changes nothing`, async () => {
    const page = await open(one);
    const whole = await played(page, LESSON, TIMES, async (same) => same);
    const broken = await played(whole.page, LESSON, TIMES, break_);
    assert.equal(broken.log, whole.log);
    assert.equal(broken.marked, whole.marked);
    assert.deepEqual(broken.page.wrongs, []);
    await broken.page.close();
  });
}

// How fast the page is, held to what it promises. For a calm machine: `npm run speed`.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";

import { ask, browser, engine, open } from "./harness.mjs";

let one;
before(async () => { one = await browser(); });
after(() => one.close());

const told = (what, value, unit) => console.log(`# ${engine}: ${what} ${value.toFixed(1)} ${unit}`);

test("the file is ready at once", async () => {
  const page = await open(one);
  const ms = await page.evaluate(() => performance.getEntriesByName("ready")[0].startTime);
  told("ready after", ms, "ms");
  assert.ok(ms <= 350);
  await page.close();
});

test("frames, sliders, figures and marks are quick", async () => {
  const page = await open(one, "practise/rowan/7");
  const frames = await page.evaluate(() => {
    engine.ask("go");
    const all = [];
    for (let i = 0; i < 3600; i += 1) {
      const from = performance.now();
      engine.advance(1 / 60);
      all.push(performance.now() - from);
    }
    const draw = performance.now();
    for (let i = 0; i < 60; i += 1) live.draw();
    return { mean: all.reduce((a, b) => a + b) / all.length, worst: Math.max(...all), draw: (performance.now() - draw) / 60 };
  });
  told("a frame of a lesson with gas, mean", 1000 * frames.mean, "µs");
  told("a frame of a lesson with gas, worst", frames.worst, "ms");
  told("drawing a frame", frames.draw, "ms");
  assert.ok(frames.mean <= 0.06 && frames.worst <= 15);
  const timed = async (what, most, work) => {
    const ms = await page.evaluate(work);
    told(what, ms, "ms");
    assert.ok(ms < most, `${what}: ${ms} ms`);
  };
  await timed("a slider without gas", 16, () => {
    const state = { base: "first-breaths-and-a-leak", set: {} };
    const from = performance.now();
    for (let i = 0; i < 10; i += 1) engine.ask("explore", { before: state, now: { ...state, set: { flow: 2 + i / 10 } } });
    return (performance.now() - from) / 10;
  });
  await timed("a slider with settled gas", 100, () => {
    const state = { base: "first-breaths-and-a-leak", set: {}, gas: true };
    const from = performance.now();
    for (let i = 0; i < 3; i += 1) engine.ask("explore", { before: state, now: { ...state, set: { flow: 2 + i / 10 } } });
    return (performance.now() - from) / 3;
  });
  await timed("a figure as SVG", 100, () => {
    engine.ask("figure", { of: "one-breath", kind: "svg" });
    const from = performance.now();
    engine.ask("figure", { of: "small-leak", kind: "svg" });
    return performance.now() - from;
  });
  await timed("thirty logs marked", 100, () => {
    const { record } = engine.ask("log");
    const files = Array.from({ length: 30 }, (_, i) => [`${i}.ron`, record]);
    const from = performance.now();
    engine.ask("mark_class", { lesson: "rowan", files, semicolon: false });
    return performance.now() - from;
  });
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

test("a session of forty minutes at sixty frames a second keeps its pace and its memory", async () => {
  const page = await open(one, "practise/marlow/7");
  const long = await page.evaluate(() => {
    const times = [];
    const began = engine.door.memory.buffer.byteLength;
    engine.ask("go");
    for (let minute = 0; minute < 40; minute += 1) {
      const from = performance.now();
      for (let i = 0; i < 3600; i += 1) {
        if (engine.advance(1 / 60) !== 3) continue;
        const { view } = engine.ask("view");
        if (view.ended) break;
        if (view.waits_for) engine.ask("enter", { line: `predict ${view.waits_for.id} up` });
        engine.ask("go");
      }
      times.push((performance.now() - from) / 3600);
    }
    const { view } = engine.ask("view");
    return { times, now: view.now_s, ended: view.ended, mega: 1e-6 * engine.door.memory.buffer.byteLength, grown: 1e-6 * (engine.door.memory.buffer.byteLength - began) };
  });
  const minutes = Math.ceil(long.now / 60);
  told(`a frame in the first of ${minutes} minutes`, 1000 * long.times[0], "µs");
  told("a frame in the last but one minute", 1000 * long.times[minutes - 2], "µs");
  told("memory of the model at the end", long.mega, "MB");
  assert.ok(long.mega < 200, `${long.mega} MB`);
  assert.deepEqual(page.wrongs, []);
  await page.close();
});

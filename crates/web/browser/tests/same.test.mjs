// The page gives the bytes of the program: reports, figures, marks.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, readdirSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";

import { ask, browser, open, root, target } from "../harness.mjs";

const program = join(target, "release/tidewright");
let one;
let page;
let scratch;
before(async () => {
  one = await browser();
  page = await open(one);
  scratch = mkdtempSync(join(tmpdir(), "same-"));
});
after(async () => {
  rmSync(scratch, { recursive: true });
  await one.close();
});

const run = (...words) => execFileSync(program, words, { cwd: root, maxBuffer: 1 << 28 });
const named = (folder) => readdirSync(join(root, folder)).filter((name) => name.endsWith(".ron"));

test("every scenario reports the same JSON", async () => {
  for (const name of named("scenarios")) {
    const path = join("scenarios", name);
    const text = readFileSync(join(root, path), "utf8");
    const report = (await ask(page, "run", { of: { file: path, text } })).json;
    assert.ok(report === run("run", path, "--json").toString(), `${name} differs`);
  }
});

test("every figure of the gallery is the same SVG, for teacher and student", async () => {
  for (const name of named("figures")) {
    const id = name.replace(".ron", "");
    for (const [reader, ending] of [["teacher", ".svg"], ["student", ".quiz.svg"]]) {
      const drawn = await ask(page, "figure", { of: id, reader, kind: "svg" });
      // The gallery leaves the font to its reader; what the program writes with it is
      // compared below.
      const svg = Buffer.from(drawn.base64, "base64").toString().replace(/ *<style>[^]*?<\/style>\n/, "");
      assert.ok(svg === readFileSync(join(root, "figures", id + ending), "utf8"), `${id + ending} differs`);
    }
  }
});

test("figures are the same as PDF, PNG and CSV, and hand-outs as HTML and PDF", async () => {
  for (const id of ["one-breath", "capnogram-phases", "flow-sweep"]) {
    for (const kind of ["svg", "pdf", "png", "csv"]) {
      const out = join(scratch, `${id}.${kind}`);
      run("figure", join("figures", `${id}.ron`), "--out", out);
      const drawn = await ask(page, "figure", { of: id, kind });
      assert.equal(Buffer.from(drawn.base64, "base64").compare(readFileSync(out)), 0, `${id}.${kind}`);
    }
  }
  const id = "stiff-lung-normal-peak";
  for (const kind of ["html", "pdf"]) {
    const out = join(scratch, `sheet.${kind}`);
    run("handout", join("scenarios", `${id}.ron`), "--seed", "7", "--out", out);
    const drawn = await ask(page, "handout", { of: id, seed: 7, paper: "a4", kind });
    assert.equal(Buffer.from(drawn.base64, "base64").compare(readFileSync(out)), 0, kind);
  }
});

test("every attempt of every lesson is marked and explained the same", async () => {
  const lessons = named("scenarios/training").map((name) => name.replace(".ron", ""));
  const attempts = readdirSync(join(root, "scenarios/training"), { recursive: true })
    .filter((name) => name.endsWith(".ron") && name.includes("/"));
  assert.ok(attempts.length >= lessons.length, `${attempts.length} attempts`);
  for (const lesson of lessons) {
    const own = attempts.filter((name) => name.includes(`${lesson}/`)).map((name) => join("scenarios/training", name));
    if (own.length === 0) continue;
    const marked = [];
    for (const path of own) {
      const log = readFileSync(join(root, path), "utf8");
      marked.push((await ask(page, "mark", { lesson, log })).json.trimEnd());
    }
    let told;
    try {
      told = run("mark", join("scenarios/training", `${lesson}.ron`), ...own, "--json").toString();
    } catch (error) {
      // It ends with 1 where an attempt did not pass.
      told = error.stdout.toString();
    }
    assert.ok(`[${marked.join(",\n")}]\n` === told, `${lesson} differs`);
  }
});

test("a class is dealt the same hands and its logs are marked to the same tables", async () => {
  const lesson = "juno-the-loose-joint";
  const roster = "pseudonym\nheron-12\nwren-3\nlark-9\n";
  const dealt = await ask(page, "deal", { lesson, roster, seed: 4 });
  assert.equal(dealt.files.length, 3);
  const folder = join(root, "scenarios/training");
  const logs = readdirSync(folder, { recursive: true }).filter((name) =>
    name.endsWith(".ron") && name.includes("/") && readFileSync(join(folder, name), "utf8").includes(`"${lesson}"`));
  const files = logs.map((name) => [name.split("/").pop(), readFileSync(join(folder, name), "utf8")]);
  assert.ok(files.length >= 3);
  const marked = await ask(page, "mark_class", { lesson, files, semicolon: false });
  assert.equal(marked.rows.length, files.length);
  const { mkdirSync, writeFileSync } = await import("node:fs");
  mkdirSync(join(scratch, "logs"));
  for (const [name, text] of files) writeFileSync(join(scratch, "logs", name), text);
  const csv = run("class", "mark", `scenarios/training/${lesson}.ron`, join(scratch, "logs")).toString();
  assert.equal(marked.csv, csv);
});

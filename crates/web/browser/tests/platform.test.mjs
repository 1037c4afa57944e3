// Packages for learning platforms, in a platform made of an open run-time: what each
// lesson scored and how far it is, by SCORM 1.2 and 2004.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createServer } from "node:http";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { inflateRawSync } from "node:zlib";

import { browser, target, until } from "../harness.mjs";

const runtime = readFileSync(new URL("../node_modules/scorm-again/dist/scorm-again.min.js", import.meta.url));
let one;
before(async () => { one = await browser(); });
after(() => one.close());

/** The files of a zip, by its central directory. */
function unzipped(bytes) {
  const end = bytes.lastIndexOf(Buffer.from("PK\x05\x06", "latin1"));
  const files = {};
  let at = bytes.readUInt32LE(end + 16);
  for (let i = 0; i < bytes.readUInt16LE(end + 10); i += 1) {
    const [size, name, extra, note] = [20, 28, 30, 32].map((field, i) => (i === 0 ? bytes.readUInt32LE(at + field) : bytes.readUInt16LE(at + field)));
    const local = bytes.readUInt32LE(at + 42);
    const from = local + 30 + bytes.readUInt16LE(local + 26) + bytes.readUInt16LE(local + 28);
    files[bytes.toString("utf8", at + 46, at + 46 + name)] = inflateRawSync(bytes.subarray(from, from + size));
    at += 46 + name + extra + note;
  }
  return files;
}

/** A platform that shows one item of a package, with an interface of the edition. */
async function served(files, interfaceOf, item) {
  const server = createServer((request, response) => {
    const name = new URL(request.url, "http://localhost").pathname.slice(1);
    const platform = `<!doctype html><title>A platform</title><script src="runtime.js"></script>
      <script>${interfaceOf}</script><iframe src="index.html${item}" width="1200" height="700"></iframe>`;
    const body = { "": platform, "runtime.js": runtime, ...files }[name];
    response.writeHead(body ? 200 : 404, { "content-type": name.endsWith(".js") ? "text/javascript" : "text/html" }).end(body);
  });
  await new Promise((then) => server.listen(0, "127.0.0.1", then));
  return { server, url: `http://127.0.0.1:${server.address().port}/` };
}

for (const [file, interfaceOf, at] of [
  ["tidewright-scorm-1.2.zip", "API = new Scorm12API({})",
    { get: (name) => API.LMSGetValue(name), status: "cmi.core.lesson_status", success: "cmi.core.lesson_status", score: "cmi.core.score" }],
  ["tidewright-scorm-2004.zip", "API_1484_11 = new Scorm2004API({})",
    { get: (name) => API_1484_11.GetValue(name), status: "cmi.completion_status", success: "cmi.success_status", score: "cmi.score" }],
]) {
  test(`${file} tells a platform score and completion, and the best attempt stays`, async () => {
    const files = unzipped(readFileSync(join(target, "scorm", file)));
    assert.deepEqual(Object.keys(files).sort(), ["imsmanifest.xml", "index.html"]);
    const items = [...files["imsmanifest.xml"].toString().matchAll(/parameters="([^"]+)"/g)].map((found) => found[1]);
    const item = items.find((one) => one.includes("juno"));
    const { server, url } = await served(files, interfaceOf, item);
    const page = await one.newPage();
    const wrongs = [];
    page.on("pageerror", (error) => wrongs.push(String(error)));
    await page.goto(url);
    const frame = await (await page.$("iframe")).contentFrame();
    await until(frame, () => document.documentElement.dataset.ready === "yes");
    const told = (name) => page.evaluate(at.get, name);
    assert.equal(await told(at.status), "incomplete");
    assert.equal(await frame.evaluate(() => practice.lesson.title.length > 0), true, "the item's lesson is under way");

    const score = () => told(`${at.score}.raw`).then(Number);
    const end = async (line) => {
      await frame.evaluate((line) => {
        oneBreath();
        if (line) enter(line);
        endPractice();
      }, line);
      await until(frame, () => document.body.innerText.includes("went to the learning platform"));
    };
    await end("listen");
    const entry = await frame.evaluate(() => keep.attempts().at(-1));
    const first = await score();
    assert.equal(first, Math.round((10_000 * entry.points) / entry.points_of) / 100);
    assert.equal(await told(at.success), entry.passed ? "passed" : "failed");
    if (at.status !== at.success) assert.equal(await told(at.status), "completed");

    // A better attempt counts, and a worse one after it changes nothing.
    await frame.evaluate(() => platform.take({ id: platform.lesson, passed: true, points: 9, points_of: 10 }));
    assert.deepEqual([await score(), await told(at.success)], [90, "passed"]);
    await frame.evaluate(() => platform.take({ id: platform.lesson, passed: false, points: 1, points_of: 10 }));
    assert.deepEqual([await score(), await told(at.success)], [90, "passed"]);
    // Nor does one of another lesson.
    assert.equal(await frame.evaluate(() => platform.take({ id: "another", passed: true, points: 10, points_of: 10 })), "");
    assert.equal(await score(), 90);

    await frame.evaluate(() => { keep.erase(); platform.end(); });
    const session = await page.evaluate(() => (window.API || window.API_1484_11).isTerminated());
    assert.equal(session, true);
    assert.deepEqual(wrongs, []);
    await page.close();
    server.closeAllConnections();
    await new Promise((then) => server.close(then));
  });
}

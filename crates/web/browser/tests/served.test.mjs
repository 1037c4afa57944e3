// From a web server the page is kept for times without a network.
import assert from "node:assert/strict";
import { existsSync, readFileSync } from "node:fs";
import { createServer } from "node:http";
import { join } from "node:path";
import { after, before, test } from "node:test";

import { browser, isChromium, ready, target, until } from "../harness.mjs";

const folder = join(target, "page");
const MEDIA = { html: "text/html", js: "text/javascript", svg: "image/svg+xml", webmanifest: "application/manifest+json" };
let one;
before(async () => { one = await browser(); });
after(() => one.close());

test("a page from a server goes on without it", { skip: !isChromium && "Firefox keeps no workers in this mode" }, async () => {
  assert.ok(existsSync(folder), "pack with --folder target/page first");
  const asked = [];
  const server = createServer((request, response) => {
    const name = request.url === "/" ? "index.html" : request.url.slice(1);
    asked.push(name);
    const path = join(folder, name);
    if (!existsSync(path)) {
      response.writeHead(404).end();
      return;
    }
    response.writeHead(200, { "content-type": MEDIA[name.split(".").pop()] }).end(readFileSync(path));
  });
  await new Promise((then) => server.listen(0, "127.0.0.1", then));
  const url = `http://127.0.0.1:${server.address().port}/`;
  const page = await one.newPage();
  const wrongs = [];
  page.on("pageerror", (error) => wrongs.push(String(error)));
  await page.goto(url);
  await ready(page);
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => true));
  await until(page, () => navigator.serviceWorker.controller !== null);
  assert.deepEqual([...new Set(asked)].sort(), ["icon.svg", "index.html", "manifest.webmanifest", "sw.js"]);
  server.closeAllConnections();
  await new Promise((then) => server.close(then));
  await page.reload();
  await ready(page);
  assert.equal(await page.$eval("h1", (heading) => heading.textContent), "Lessons");
  assert.deepEqual(wrongs, []);
  await page.close();
});

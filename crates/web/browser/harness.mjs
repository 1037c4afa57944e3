// A browser with the page opened from disk, and what must never happen in it.
import { existsSync } from "node:fs";
import { mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";

import puppeteer from "puppeteer-core";

export const root = resolve(dirname(fileURLToPath(import.meta.url)), "../../..");
export const target = process.env.CARGO_TARGET_DIR ? resolve(process.env.CARGO_TARGET_DIR) : join(root, "target");
export const file = process.env.PAGE ?? join(target, "tidewright.html");
export const light = process.env.LIGHT ?? join(target, "tidewright-light.html");
export const engine = process.env.ENGINE ?? "chromium";
export const isChromium = engine === "chromium";

const PROGRAMS = {
  chromium: ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"],
  firefox: ["/usr/bin/firefox-esr", "/usr/bin/firefox"],
};

const QUIET = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
  "--disable-background-networking", "--disable-component-update", "--disable-sync"];

const PREFERENCES = {
  "security.fileuri.strict_origin_policy": true,
  "browser.download.folderList": 2,
  "browser.helperApps.neverAsk.saveToDisk": "text/plain,text/csv,text/html,application/json,application/pdf,image/svg+xml,image/png",
  "app.update.enabled": false,
  "datareporting.policy.dataSubmissionEnabled": false,
  "toolkit.telemetry.enabled": false,
};

/** A browser that keeps its downloads in `folder`. */
export async function browser() {
  const executablePath = PROGRAMS[engine].find(existsSync);
  if (!executablePath) throw new Error(`no ${engine} found: install Debian's package`);
  const folder = mkdtempSync(join(tmpdir(), "tidewright-"));
  const one = await puppeteer.launch({
    browser: isChromium ? "chrome" : "firefox",
    executablePath,
    args: isChromium ? QUIET : [],
    extraPrefsFirefox: { ...PREFERENCES, "browser.download.dir": folder },
    protocolTimeout: 120_000,
    ...(isChromium ? { downloadBehavior: { policy: "allow", downloadPath: folder } } : {}),
  });
  const close = one.close.bind(one);
  one.close = async () => {
    await close();
    rmSync(folder, { recursive: true, force: true });
  };
  one.folder = folder;
  return one;
}

/** Makes a page so wide and high. This Firefox sets the size and then knows no orientation. */
export async function size(page, width, height) {
  try {
    await page.setViewport({ width, height });
  } catch (error) {
    if (!String(error).includes("setScreenOrientationOverride")) throw error;
  }
}

/** The page, opened; `page.wrongs` holds what went wrong in it, which must be nothing. */
export async function open(one, hash = "", prepare = async () => {}, of = file) {
  const page = await one.newPage();
  await size(page, 1366, 768);
  page.wrongs = [];
  page.on("console", (message) => {
    if (["error", "warn", "warning"].includes(message.type())) page.wrongs.push(message.text());
  });
  page.on("pageerror", (error) => page.wrongs.push(String(error)));
  page.on("request", (request) => {
    const url = request.url();
    const isOwn = url.startsWith("file:") && decodeURIComponent(url).includes("tidewright");
    if (!isOwn && !/^(data|blob|about):/.test(url)) page.wrongs.push(`asked for ${url}`);
  });
  await prepare(page);
  await page.goto(`${pathToFileURL(of)}${hash && `#${hash}`}`);
  await ready(page);
  return page;
}

export const ready = (page) => until(page, () => document.documentElement.dataset.ready === "yes");

/** Asks the page again and again until it says yes: what the policy of the page allows
 * in every browser. */
export async function until(page, condition, ...words) {
  for (let i = 0; i < 600; i += 1) {
    if (await page.evaluate(condition, ...words)) return;
    await new Promise((then) => setTimeout(then, 50));
  }
  throw new Error(`it never came true: ${condition} ${JSON.stringify(words)}`);
}

/** Something with a role, by the name that a screen reader says. */
export async function named(page, name, role) {
  const selector = `::-p-aria([name="${name.replaceAll('"', '\\"')}"]${role ? `[role="${role}"]` : ""})`;
  for (let i = 0; i < 200; i += 1) {
    const found = await page.$(selector);
    if (found) return found;
    await new Promise((then) => setTimeout(then, 50));
  }
  throw new Error(`there is no ${role} named ${name}`);
}

/** What a label is of. */
export async function labelled(page, words) {
  const found = await page.evaluateHandle((words) => {
    const label = [...document.querySelectorAll("label")].find((one) => one.textContent.trim() === words);
    return label ? label.control : null;
  }, words);
  const element = found.asElement();
  if (!element) throw new Error(`nothing is labelled ${words}`);
  return element;
}

export const click = async (page, name, role) => (await named(page, name, role)).click();
export const press = (page, name) => click(page, name, "button");

/** What stands on the page, waited for. */
export const reads = (page, text) => until(page, ([source, flags]) =>
  new RegExp(source, flags).test(document.body.innerText),
text instanceof RegExp ? [text.source, text.flags] : [text.replace(/[.*+?^${}()|[\]\\]/g, "\\$&"), ""]);

export const ask = (page, name, more = {}) =>
  page.evaluate((name, more) => engine.ask(name, more), name, more);

/** The text of a download. */
export async function downloaded(one, ending, since = Date.now()) {
  for (let i = 0; i < 100; i += 1) {
    const found = readdirSync(one.folder).find((name) => name.endsWith(ending));
    if (found) {
      const bytes = readFileSync(join(one.folder, found));
      if (bytes.length > 0) {
        rmSync(join(one.folder, found));
        return { name: found, bytes };
      }
    }
    await new Promise((then) => setTimeout(then, 100));
  }
  throw new Error(`nothing ending in ${ending} was saved in ${Date.now() - since} ms`);
}

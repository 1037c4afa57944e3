/* Screens by their address, and the start. */

const SCREENS = [
  ["learn", "Lessons", "learnScreen"],
  ["explore", "Explore", "exploreScreen"],
  ["bench", "Bench", "benchScreen"],
  ["figures", "Figures", "figuresScreen"],
  ["write", "Write", "writeScreen"],
  ["class", "Class", "classScreen"],
  ["look-up", "Look up", "lookUpScreen"],
  // The light page lacks some.
].filter(([, , screen]) => window[screen]);
/** Screens that no list names. */
const WITHIN = [["practise", "Practise", "practiseScreen", "learn"], ["exam", "Exam", "examScreen", "learn"],
  ["debrief", "Debrief", "debriefScreen", "learn"]];

/** What the model carries inside. */
let shelf = null;

function go(address) {
  if (location.hash === `#${address}`) show();
  else location.hash = address;
}

function show() {
  const [name, ...rest] = location.hash.slice(1).split("/");
  const [found, title, screen, parent] = [...SCREENS, ...WITHIN].find(([one]) => one === name) || SCREENS[0];
  if (found !== "practise") {
    if (practice.lesson) {
      practice.runs = false;
      engine.ask("pause");
      keepLog();
    }
    live.end();
  }
  const main = byId("main");
  fill(main);
  window[screen](main, rest);
  const heading = main.querySelector("h1");
  document.title = `${heading ? heading.textContent : title} – Tidewright`;
  for (const link of byId("parts").querySelectorAll("a")) {
    if (link.dataset.screen === (parent || found)) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
  scrollTo(0, 0);
}

/** Curves are drawn anew where the colours of the page change: paper, dark, contrast. */
function redrawWhenColoursChange() {
  for (const media of ["print", "(prefers-color-scheme: dark)", "(prefers-contrast: more)"]) {
    matchMedia(media).addEventListener("change", () => {
      live.draw();
      if (explored.redraw && explored.box.canvas.isConnected) explored.redraw();
    });
  }
}

async function start() {
  try {
    await engine.unpack();
  } catch (error) {
    fill(byId("waiting"), "This browser cannot unpack the model: take a newer one. ", String(error.message || error));
    return;
  }
  engine.bringBack = bringBack;
  shelf = engine.ask("shelf");
  fill(byId("caution"), `${shelf.caution} `, make("span", { class: "soft" }, `Version ${shelf.version}.`));
  fill(byId("parts"), SCREENS.map(([name, words]) =>
    make("li", {}, make("a", { href: `#${name}`, "data-screen": name }, words))));
  byId("skip").addEventListener("click", (event) => {
    event.preventDefault();
    byId("main").focus();
  });
  addEventListener("hashchange", () => {
    show();
    byId("main").focus({ preventScroll: true });
  });
  redrawWhenColoursChange();
  platform.begin();
  show();
  // Only a page from a server names a manifest; there it is kept for times without one.
  if (document.querySelector("link[rel=manifest]") && "serviceWorker" in navigator) {
    navigator.serviceWorker.register("sw.js").catch(() => say("This browser does not keep the page for times without a network."));
  }
  document.documentElement.dataset.ready = "yes";
  performance.mark("ready");
}

start();

// Starts the program as its users do, and a browser.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { chromium } from "playwright-core";

const AXE = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const PROGRAM = process.env.EVENFIELD ?? new URL("../../target/debug/evenfield", import.meta.url).pathname;

/** For how long a test waits for what a page does. */
const SLOWEST_MS = 120_000;

/** What a test says that needs no more than an open event and somebody who plays it. */
export const SMALL = ["--players", "8", "--events", "4"];

/** Starts a demo league; answers its address, sign-ins, the ids of the open event and the season, and a round to hand in. */
export async function demo(...words) {
  const listen = words.includes("--listen") ? [] : ["--listen", "127.0.0.1:0"];
  const child = spawn(PROGRAM, ["demo", "--seed", "7", ...listen, ...words], { stdio: ["ignore", "pipe", "ignore"] });
  let text = "";
  for await (const chunk of child.stdout) {
    text += chunk;
    if (/^Fair play .*\n/m.test(text)) break;
  }
  const found = (pattern) => {
    const match = text.match(pattern);
    if (!match) throw new Error(`the demo does not print ${pattern}:\n${text}`);
    return match.slice(1);
  };
  const signIn = (who) => {
    const [email, password] = found(new RegExp(`(${who}@\\S+) +(demo ${who} \\S+)`));
    return { email, password };
  };
  const [base] = found(/^Open +(http:\S+)/m), [season] = found(/seasons\/([0-9a-f-]{36})/), player = signIn("player");
  const { event, round } = await openEvent(base, season, player);
  return { base, season, event, round, player, organizer: signIn("organizer"), stop: () => child.kill() };
}

/** Finds the event that is open, and makes a round for it: everybody's two putts, and par from hole to hole. */
async function openEvent(base, season, player) {
  const ask = async (path, { token, body } = {}) => {
    const headers = { ...(token && { authorization: `Bearer ${token}` }), ...(body && { "content-type": "application/json" }) };
    const answer = await fetch(`${base}/api/v1${path}`, { method: body ? "POST" : "GET", headers, body: body && JSON.stringify(body) });
    return answer.json();
  };
  const { access_token: token } = await ask("/sessions", { body: player });
  const { items } = await ask(`/seasons/${season}/events?limit=200`, { token });
  const event = items.find(({ state }) => state === "open");
  const { memberships } = await ask("/me", { token });
  const last = items.filter(({ state, holes }) => ["closed", "final"].includes(state) && holes === 18).at(-1);
  const rounds = await ask(`/events/${last.id}/rounds?limit=200`, { token });
  const mine = rounds.items.find((round) => memberships.some(({ member_id: id }) => id === round.member_id)) ?? rounds.items[0];
  const { member_id, setup_id, holes } = await ask(`/rounds/${mine.id}`, { token });
  const played_on = event.opens_at.slice(0, 10);
  const round = { client_round_id: crypto.randomUUID(), member_id, setup_id, played_on, outcome: "complete", holes };
  return { event: event.id, round };
}

/** Starts Chromium. */
export async function browser() {
  const quiet = ["--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync"];
  const root = process.getuid?.() === 0 ? ["--no-sandbox"] : [];
  const launched = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: [...quiet, ...root] });
  // A slow machine is no fault.
  const open = launched.newContext.bind(launched);
  launched.newContext = async (options) => {
    const context = await open(options);
    context.setDefaultTimeout(SLOWEST_MS);
    return context;
  };
  return launched;
}

/** Signs a page in. */
export async function signIn(page, base, { email, password }) {
  await page.goto(`${base}/sign-in`);
  await page.getByLabel("E-mail").fill(email);
  await page.getByLabel("Password").fill(password);
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.waitForURL((url) => !url.pathname.startsWith("/sign-in"));
}

/** Opens a page of its own for somebody of a league, signed in; what its scripts do not catch is kept in `faults`. */
export async function signedIn(chromium, league, who, options) {
  const page = await (await chromium.newContext({ baseURL: league.base, ...options })).newPage();
  page.faults = [];
  page.on("pageerror", (error) => page.faults.push(String(error)));
  await signIn(page, league.base, league[who]);
  return page;
}

/** Waits until what is asked of a page is so, for ten seconds; unlike `waitForFunction` it waits for promises. */
export async function until(page, ask, argument) {
  for (let n = 0; n < 200; n++) {
    if (await page.evaluate(ask, argument).catch(() => false)) return;
    await new Promise((done) => { setTimeout(done, 50); });
  }
  assert.fail(`it never came to be: ${ask}`);
}

/** Waits until a field holds a value: scripts fill a card in after its page was opened. */
export async function holds(field, value, why) {
  for (let n = 0; n < 200 && (await field.inputValue()) !== value; n++) await new Promise((done) => { setTimeout(done, 50); });
  assert.equal(await field.inputValue(), value, why);
}

/** Taps a card in from the open hole to the last, par on each with two putts; answers how many taps that took. */
export async function tapCard(page, putts = [20, 2]) {
  let taps = 0;
  const tap = async (name) => { await page.getByRole("button", { name, exact: true }).click(); taps += 1; };
  while ((await page.locator("#review").count()) === 0) {
    const par = await page.locator("tr.current").getAttribute("data-par");
    for (const feet of putts) await tap(`putt from ${feet} feet`);
    await tap(`${par} strokes, par`);
  }
  return taps;
}

/** Looks a card over and hands it in. */
export async function handIn(page) {
  if ((await page.locator("#review").count()) === 0) await page.getByRole("button", { name: "Review" }).click();
  await page.getByRole("button", { name: "Hand in", exact: true }).click();
}

/** Answers what of the card is kept on this device, as the browser has it on its disk. */
export const keptCards = (page) => page.evaluate(() => new Promise((done) => {
  const asked = indexedDB.open("cards");
  asked.onsuccess = () => {
    const all = asked.result.transaction("cards").objectStore("cards").getAll();
    all.onsuccess = () => { asked.result.close(); done(all.result); };
  };
}));

/** Goes to what a league's bar has no room for. */
export async function toMore(page) {
  await page.getByRole("link", { name: "More", exact: true }).click();
  await page.waitForURL("**/more");
}

/** Asks the interface for scripts as whoever is signed in on a page. */
export async function api(page, method, path, body) {
  const send = async ({ method, path, body }) => {
    const headers = { "idempotency-key": crypto.randomUUID(), ...(body && { "content-type": "application/json" }) };
    const answer = await fetch(`/api/v1${path}`, { method, headers, body: body && JSON.stringify(body) });
    return { status: answer.status, body: await answer.json() };
  };
  return page.evaluate(send, { method, path, body });
}

/** Answers the id by which whoever is signed in on a page is known to its league. */
export const me = async (page) => (await api(page, "GET", "/me")).body.memberships[0].member_id;

/** Answers of which kind a path is. */
export const template = (path) => path.replace(/[0-9a-f]{8}-[0-9a-f-]{27}/g, "{id}").replace(/[?#].*/, "")
  .replace(/^\/problems\/.*/, "/problems/{kind}");

/** Follows every link to a page from the first one on, one page of each kind; answers a path of each kind. */
export async function crawl(page) {
  const waiting = ["/"], kinds = new Map();
  while (waiting.length) {
    const path = waiting.shift();
    if (kinds.has(template(path))) continue;
    const answer = await page.goto(path);
    assert.ok(answer.status() < 400, `${path} answers ${answer.status()}`);
    kinds.set(template(path), path);
    const links = await page.$$eval("a[href]:not([download])", (all) => all.map((a) => a.getAttribute("href")));
    waiting.push(...links.filter((href) => href.startsWith("/") && !href.startsWith("/api/")));
  }
  return [...kinds.values()];
}

const RULES = {
  runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"],
  // Off by default, though WCAG 2.2 AA asks for it.
  rules: { "target-size": { enabled: true } },
};
/** The rules that another colour scheme could break, where a page has been looked at in one. */
const OF_COLOURS = { runOnly: { type: "rule", values: ["color-contrast", "link-in-text-block"] } };

/** Answers what axe finds on a page, and that it is wider than its window. */
export async function faults(page, rules = RULES) {
  await page.waitForLoadState();
  if (!(await page.evaluate(() => "axe" in window))) await page.evaluate(AXE);
  const found = await page.evaluate((rules) => axe.run(rules), rules);
  const ran = [...found.passes, ...found.violations, ...found.incomplete, ...found.inapplicable];
  assert.ok(ran.some((rule) => ["target-size", "color-contrast"].includes(rule.id)), "the rules ran");
  const told = found.violations.map((rule) => `${rule.id}: ${rule.nodes.slice(0, 3).map((node) => node.html.slice(0, 160)).join(" | ")}`);
  const { is, may } = await page.evaluate(() => ({ is: document.documentElement.scrollWidth, may: innerWidth }));
  return is > may ? [...told, `the page is ${is} px wide`] : told;
}

/** Answers the faults of a page, light and dark. */
export async function faultsInBothSchemes(page) {
  const told = [];
  for (const [colorScheme, rules] of [["light", RULES], ["dark", OF_COLOURS]]) {
    await page.emulateMedia({ colorScheme });
    // Keys change their colour over a moment; those in closed parts of a page would never end.
    await page.evaluate(() => document.getAnimations().forEach((change) => change.finish()));
    told.push(...(await faults(page, rules)).map((fault) => `${colorScheme}: ${fault}`));
  }
  await page.emulateMedia({ colorScheme: null });
  return told;
}

/** Answers the faults of a page at each width, light and dark. */
export async function faultsAtAllSizes(page, widths = [320, 390, 768, 1280]) {
  const told = [];
  for (const width of widths) {
    await page.setViewportSize({ width, height: 800 });
    told.push(...(await faultsInBothSchemes(page)).map((fault) => `${width} px, ${fault}`));
  }
  return told;
}

/** Fails on the faults of a page. */
export async function sound(page, when) {
  assert.deepEqual(await faults(page), [], when);
}

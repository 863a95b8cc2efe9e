// How pages do on a slow phone, what is said when something is missing or wrong, and what stays behind after sign-out.
import { after, before, test } from "node:test";
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { api, browser, demo, signIn } from "./server.mjs";

const AXE = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const PHONE = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true, serviceWorkers: "block" };
/** A phone four times slower than this machine, at 1.6 Mbit/s with 150 ms to the server. */
const SLOW = { cpu: 4, latency: 150, downloadThroughput: 1.6e6 / 8, uploadThroughput: 0.75e6 / 8 };
const LARGEST_MS = 1500, FINDING_MS = 2000, ANSWER_MS = 100, RUNS = 5;
/** One tap may meet a machine that is busy with something else: what is asked for is reported, twice as long fails. */
const BUSY = 2;

let league, chromium;
before(async () => { [league, chromium] = await Promise.all([demo(), browser()]); });
after(async () => { await chromium?.close(); league?.stop(); });

async function open(options, who) {
  const context = await chromium.newContext({ baseURL: league.base, ...options });
  const page = await context.newPage();
  if (who) await signIn(page, league.base, who);
  return page;
}

const median = (all) => all.toSorted((a, b) => a - b)[Math.floor(all.length / 2)];

async function slowDown(page) {
  const wire = await page.context().newCDPSession(page);
  await wire.send("Network.enable");
  await wire.send("Network.emulateNetworkConditions", { offline: false, ...SLOW });
  await wire.send("Emulation.setCPUThrottlingRate", { rate: SLOW.cpu });
  return wire;
}

const largestPaint = (page) => page.evaluate(() => new Promise((done) => {
  let last = 0;
  new PerformanceObserver((list) => list.getEntries().forEach((entry) => { last = entry.startTime; }))
    .observe({ type: "largest-contentful-paint", buffered: true });
  setTimeout(() => done(last), 300);
}));

test("the largest part of each page is there soon on a slow phone", async (t) => {
  const player = await open(PHONE, league.player), organizer = await open(PHONE, league.organizer);
  const href = (page, start) => page.$eval(`main a[href^="${start}"], nav a[href^="${start}"]`, (a) => a.getAttribute("href"));
  await organizer.goto("/");
  await organizer.goto(await organizer.$eval('nav a[href$="/findings"]', (a) => a.href));
  const finding = await href(organizer, "/findings/");
  await player.goto(`/events/${league.event}`);
  const paths = [
    [player, "/leagues"], [player, `/events/${league.event}`], [player, `/events/${league.event}/hand-in`],
    [player, `/seasons/${league.season}`], [player, await href(player, "/members/")],
    [player, await (async () => { await player.goto(`/seasons/${league.season}`); return href(player, "/events/"); })()],
    [organizer, finding, FINDING_MS],
  ];
  for (const page of [player, organizer]) page.wire = await slowDown(page);
  const faults = [];
  for (const [page, path, most = LARGEST_MS] of paths) {
    const took = [];
    for (let run = 0; run < RUNS; run++) {
      await page.wire.send("Network.clearBrowserCache");
      await page.goto(path);
      took.push(await largestPaint(page));
    }
    assert.ok(median(took) > 0, `${path} was painted`);
    t.diagnostic(`${path.replace(/[0-9a-f-]{36}/, "{id}")}: largest paint ${median(took).toFixed(0)} ms of ${most}`);
    if (median(took) > most) faults.push(`${path}: ${median(took)} ms`);
  }
  assert.deepEqual(faults, []);
  await Promise.all([player.context().close(), organizer.context().close()]);
});

test("a tap is answered at once on a slow phone", async (t) => {
  const page = await open(PHONE, league.player);
  await page.goto(`/events/${league.event}/hand-in`);
  const wire = await slowDown(page);
  await page.evaluate(() => {
    window.taps = [];
    new PerformanceObserver((list) => list.getEntries().forEach((entry) => { if (entry.interactionId) taps.push(entry.duration); }))
      .observe({ type: "event", durationThreshold: 16 });
  });
  const par = await page.locator("tr.current").getAttribute("data-par");
  for (let hole = 0; hole < 4; hole++) {
    await page.locator("#pad").getByRole("button", { name: `${par} strokes` }).tap();
    await page.getByRole("button", { name: "putt from 20 feet" }).tap();
    await page.getByRole("button", { name: "putt from 2 feet", exact: true }).tap();
    await page.getByRole("button", { name: "Next hole" }).tap();
  }
  await wire.send("Emulation.setCPUThrottlingRate", { rate: 1 });
  await page.waitForTimeout(200);
  // What took less than 16 ms is not listed; the slowest of so few taps is what the measure takes.
  const slowest = Math.max(16, ...(await page.evaluate(() => taps)));
  t.diagnostic(`hand-in: slowest of 16 taps ${slowest} ms of ${ANSWER_MS}`);
  assert.ok(slowest <= BUSY * ANSWER_MS, `${slowest} ms`);
  await page.context().close();
});

/** Finds what breaks WCAG 2.2 AA. */
async function violations(page) {
  await page.evaluate(AXE);
  const found = await page.evaluate(() => axe.run({
    runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"], rules: { "target-size": { enabled: true } },
  }));
  return found.violations.map((rule) => `${rule.id}: ${rule.nodes.slice(0, 3).map((node) => node.html.slice(0, 160)).join(" | ")}`);
}

for (const width of [320, 1280]) {
  for (const colorScheme of ["light", "dark"]) {
    test(`what is empty, missing or refused at ${width} px, ${colorScheme}`, async () => {
      const page = await open({ viewport: { width, height: 800 }, colorScheme, bypassCSP: true });
      const faults = [];
      const check = async (what, words) => {
        const text = await page.locator("main").innerText();
        if (!text.includes(words)) faults.push(`${what} does not say ${words}: ${text}`);
        faults.push(...(await violations(page)).map((fault) => `${what}: ${fault}`));
        const { is, may } = await page.evaluate(() => ({ is: document.documentElement.scrollWidth, may: innerWidth }));
        if (is > may) faults.push(`${what} is ${is} px wide`);
      };
      // Refused forms: signing in, registering.
      await page.goto("/sign-in");
      await page.getByLabel("E-mail").fill("nobody@example.org");
      await page.getByLabel("Password").fill("wrong");
      await page.getByRole("button", { name: "Sign in" }).click();
      await check("a refused sign-in", "password is wrong");
      await page.goto("/register");
      await page.getByLabel("E-mail").fill(`empty.${width}.${colorScheme}@example.org`);
      await page.getByLabel("Password").fill("short");
      await page.locator("input[name=display_name]").fill("Emmy Quarles");
      // The browser itself would refuse it: the server's answer is what is looked at.
      await page.$eval("main form", (form) => { form.noValidate = true; });
      await page.locator("main form button").click();
      await check("a refused registration", "Make an account");
      assert.equal(await page.locator("[aria-invalid=true]").getAttribute("id"), "password");
      await page.getByLabel("Password").fill("a long walk round the pond");
      await page.locator("main form button").click();
      await page.waitForURL((url) => !url.pathname.startsWith("/register"));
      // Nothing there yet: no league, then a league with no season, and a player without a round.
      await page.goto("/leagues");
      await check("no league", "You are in no league yet");
      const made = await api(page, "POST", "/leagues", { name: "Empty League", time_zone: "Europe/Lisbon" });
      assert.equal(made.status, 201, JSON.stringify(made.body));
      const { id, member_id: member } = made.body;
      await page.goto(`/leagues/${id}`);
      await check("an empty league", "No season has been set up yet");
      await page.goto(`/members/${member}`);
      await check("a player without a round", "Differentials appear here after the first round");
      for (const path of ["members", "findings", "organize", "journal"]) {
        const answer = await page.goto(`/leagues/${id}/${path}`);
        assert.equal(answer.status(), 200, path);
        await check(`an empty league's ${path}`, "");
      }
      const season = await api(page, "POST", `/leagues/${id}/seasons`, {
        name: "First", starts_on: "2026-01-01", ends_on: "2036-12-31", scoring: "net", allowance_pct: 95,
        award: { kind: "by_place", table: [4, 3, 2, 1] }, counting: { best: null, minimum: 0 }, concession_ft: 2,
      });
      assert.equal(season.status, 201, JSON.stringify(season.body));
      await page.goto(`/seasons/${season.body.id}`);
      await check("standings without a round", "No round has been handed in yet");
      // Not there.
      for (const path of ["/nowhere", `/rounds/${crypto.randomUUID()}`, `/findings/${crypto.randomUUID()}`]) {
        const answer = await page.goto(path);
        assert.equal(answer.status(), 404, path);
        await check(`${path} (404)`, "first page");
      }
      // An invitation that nobody made.
      await page.goto("/join");
      await page.getByLabel("Code").fill("ABCD-EFGH-JKLM");
      await page.locator("main form button").first().click();
      await check("a wrong code", "");
      // A link for a new password that nobody made.
      await page.goto("/new-password#nobody-made-this");
      assert.equal(await page.getByLabel("Code for a new password").inputValue(), "nobody-made-this");
      await page.getByLabel(/^New password/).fill("a long walk round the pond");
      await page.locator("main form button").click();
      await check("a spent link", "Your password is as it was");
      assert.deepEqual(faults, []);
      await page.context().close();
    });
  }
}

test("a page that did not change comes back for less than a kilobyte", async (t) => {
  const page = await open({ serviceWorkers: "block" }, league.player);
  const wire = await page.context().newCDPSession(page);
  await wire.send("Network.enable");
  let bytes = 0;
  // The browser asks for an icon once, whenever it likes: that is not the page.
  const icons = new Set();
  wire.on("Network.requestWillBeSent", ({ requestId, request }) => { if (request.url.endsWith(".ico")) icons.add(requestId); });
  wire.on("Network.loadingFinished", (done) => { if (!icons.has(done.requestId)) bytes += done.encodedDataLength; });
  for (const path of [`/seasons/${league.season}`, `/events/${league.event}`, "/leagues"]) {
    await page.goto(path);
    bytes = 0;
    const answer = await page.goto(path);
    t.diagnostic(`${path.replace(/[0-9a-f-]{36}/, "{id}")}: ${bytes} bytes when asked again`);
    assert.ok(answer.ok() && bytes < 1024, `${path}: ${bytes} bytes`);
  }
  await page.context().close();
});

test("nobody finds a page with the Back button after signing out", async () => {
  const page = await open({}, league.player);
  await page.goto(`/seasons/${league.season}`);
  await page.getByRole("link", { name: "My golf" }).click();
  await page.waitForURL(/\/members\//);
  await page.getByRole("button", { name: "Sign out" }).click();
  await page.waitForURL(/\/sign-in/);
  for (let back = 0; back < 2; back++) {
    await page.goBack();
    assert.match(page.url(), /\/sign-in/, "a kept page is not shown to the next");
  }
  await page.context().close();
});

test("every chart has its words and a table, and is black on white on paper", async () => {
  const page = await open({}, league.organizer);
  await page.goto(`/seasons/${league.season}`);
  await page.locator("main a[href^='/members/']").first().click();
  await page.waitForURL(/\/members\//);
  const charts = await page.$$eval("svg.chart", (all) => all.map((svg) => ({
    title: svg.querySelector("title")?.textContent, words: svg.querySelector("desc")?.textContent,
    named: svg.getAttribute("aria-labelledby").split(" ").every((id) => document.getElementById(id)),
    figures: Boolean(svg.closest("section").querySelector("table")),
  })));
  assert.ok(charts.length >= 4, `${charts.length} charts`);
  for (const { title, words, named, figures } of charts) {
    assert.ok(title && words.length > 40 && named && figures, title);
  }
  // Printed, the marks are black on white and still told apart by their shapes.
  await page.emulateMedia({ media: "print", colorScheme: "dark" });
  const printed = await page.$eval("svg.chart .dot, svg.chart .points", (mark) => getComputedStyle(mark).stroke);
  assert.equal(printed, "rgb(0, 0, 0)");
  await page.context().close();
});

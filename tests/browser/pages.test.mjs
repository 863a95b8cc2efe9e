// Every page in a real browser: nothing dead, nothing inaccessible, nothing heavy, nothing that jumps.
import { after, before, test } from "node:test";
import assert from "node:assert/strict";
import { api, browser, crawl, demo, faultsAtAllSizes, signIn, template, toMore } from "./server.mjs";

const FIRST_VISIT_BYTES = 60 * 1024;
const LATER_VISIT_BYTES = 20 * 1024;
const MOST_SHIFT = 0.02;

let league, chromium;
before(async () => { [league, chromium] = await Promise.all([demo(), browser()]); });
after(async () => { await chromium?.close(); league?.stop(); });

/** Opens a page of its own; errors on its console fail the test. */
async function open(options, who) {
  const context = await chromium.newContext({ baseURL: league.base, ...options });
  const page = await context.newPage();
  page.errors = [];
  page.on("console", (message) => { if (message.type() === "error") page.errors.push(`${page.url()}: ${message.text()}`); });
  page.on("pageerror", (error) => page.errors.push(`${page.url()}: ${error}`));
  if (who) await signIn(page, league.base, who);
  return page;
}

for (const who of ["player", "organizer"]) {
  test(`every page of ${who} at each width, light and dark`, async () => {
    // bypassCSP lets the checker in; the console of the other tests watches the policy.
    const page = await open({ bypassCSP: true }, league[who]);
    const found = [];
    for (const path of await crawl(page)) {
      await page.goto(path);
      found.push(...(await faultsAtAllSizes(page)).map((fault) => `${path} at ${fault}`));
    }
    assert.deepEqual([...found, ...page.errors], []);
    await page.context().close();
  });
}

test("pages are light and stand still", async (t) => {
  // Without the worker, whose own requests would not be counted.
  const page = await open({ viewport: { width: 390, height: 844 }, serviceWorkers: "block" }, league.player);
  const wire = await page.context().newCDPSession(page);
  await wire.send("Network.enable");
  let bytes = 0;
  wire.on("Network.loadingFinished", (done) => { bytes += done.encodedDataLength; });
  const faults = [];
  for (const path of await crawl(page)) {
    const cost = [];
    for (const isFirst of [true, false]) {
      if (isFirst) await wire.send("Network.clearBrowserCache");
      bytes = 0;
      await page.goto(path);
      const shift = await page.evaluate(() => new Promise((done) => {
        let sum = 0;
        new PerformanceObserver((list) => list.getEntries().forEach((entry) => { sum += entry.value; }))
          .observe({ type: "layout-shift", buffered: true });
        setTimeout(() => done(sum), 250);
      }));
      cost.push(bytes);
      if (bytes > (isFirst ? FIRST_VISIT_BYTES : LATER_VISIT_BYTES)) faults.push(`${path}: ${bytes} bytes`);
      if (shift > MOST_SHIFT) faults.push(`${path} shifts by ${shift}`);
    }
    t.diagnostic(`${template(path)}: ${cost[0]} bytes at first, ${cost[1]} later`);
  }
  assert.deepEqual([...faults, ...page.errors], []);
  await page.context().close();
});

test("everything that matters works without script", async () => {
  const page = await open({ javaScriptEnabled: false }, league.player);
  await page.goto(`/events/${league.event}`);
  assert.ok(await page.getByRole("heading", { level: 1 }).isVisible());
  assert.equal(await page.getByRole("button", { name: "Pause" }).count(), 0);
  await toMore(page);
  await page.getByRole("button", { name: "Sign out" }).click();
  assert.ok(page.url().endsWith("/sign-in"));
  await page.goto(`/events/${league.event}`);
  assert.ok(page.url().includes("/sign-in?then="), "whoever is signed out is asked to sign in, and comes back");
  await page.context().close();
});

test("the board moves when a card comes in, and holds still while paused", async () => {
  const watcher = await open({}, league.organizer);
  await watcher.goto(`/events/${league.event}`);
  const cards = async () => Number(await watcher.locator("#as-of").getAttribute("data-in"));
  const before = await cards();
  const player = await open({}, league.player);
  await watcher.getByRole("button", { name: "Pause" }).click();
  const handed = await api(player, "POST", `/events/${league.event}/rounds`, league.round);
  assert.equal(handed.status, 201, JSON.stringify(handed.body));
  await watcher.waitForTimeout(2500);
  assert.equal(await cards(), before, "nothing moves while paused");
  await watcher.getByRole("button", { name: "Go on" }).click();
  await watcher.waitForFunction((n) => Number(document.getElementById("as-of").dataset.in) === n, before + 1, { timeout: 5000 });
  assert.match(await watcher.locator("#said").textContent(), /cards? in/, "it is said aloud");
  assert.deepEqual([...watcher.errors, ...player.errors], []);
  await Promise.all([watcher.context().close(), player.context().close()]);
});

test("a public page needs no account, and a screen goes on by itself until a key holds it", async () => {
  const organizer = await open({}, league.organizer);
  const { memberships } = (await api(organizer, "GET", "/me")).body;
  const made = await api(organizer, "POST", `/leagues/${memberships[0].league_id}/addresses`, { kind: "public" });
  assert.equal(made.status, 201, JSON.stringify(made.body));
  const visitor = await open({ bypassCSP: true });
  await visitor.goto(made.body.path);
  const found = await faultsAtAllSizes(visitor);
  await visitor.getByRole("link", { name: /^Week/ }).first().click();
  found.push(...(await faultsAtAllSizes(visitor)));
  assert.match(await visitor.locator("tbody th").first().textContent(), /^\p{L}\. /u, "players have initials");
  await visitor.clock.install();
  await visitor.goto(`${made.body.path}/screen`);
  found.push(...(await faultsAtAllSizes(visitor, [1280])));
  const rows = () => visitor.locator("tbody tr").count();
  assert.ok((await rows()) > 0 && (await rows()) <= 12, `${await rows()} rows`);
  await visitor.keyboard.press("h");
  await visitor.clock.fastForward(60_000);
  assert.equal(new URL(visitor.url()).search, "", "a key holds it");
  await visitor.keyboard.press("h");
  await visitor.clock.fastForward(21_000);
  await visitor.waitForURL("**/screen?page=1");
  assert.deepEqual([...found, ...visitor.errors, ...organizer.errors], []);
  await Promise.all([visitor.context().close(), organizer.context().close()]);
});

// What is said when something is missing or wrong, and what stays behind after sign-out.
import { after, before, test } from "node:test";
import assert from "node:assert/strict";
import { api, browser, demo, faultsAtAllSizes, holds, signedIn, toMore } from "./server.mjs";

let league, chromium;
before(async () => { [league, chromium] = await Promise.all([demo(), browser()]); });
after(async () => { await chromium?.close(); league?.stop(); });

test("what is empty, missing or refused, narrow and wide, light and dark", async () => {
  const page = await chromium.newPage({ baseURL: league.base, bypassCSP: true });
  const check = async (what, words) => {
    const text = await page.locator("main").innerText();
    assert.ok(text.includes(words), `${what} does not say ${words}: ${text}`);
    assert.deepEqual(await faultsAtAllSizes(page, [320, 1280]), [], what);
  };
  // Refused forms: signing in, registering.
  await page.goto("/sign-in");
  await page.getByLabel("E-mail").fill("nobody@example.org");
  await page.getByLabel("Password").fill("wrong");
  await page.getByRole("button", { name: "Sign in" }).click();
  await check("a refused sign-in", "Wrong e-mail or password");
  await page.goto("/register");
  await page.getByLabel("E-mail").fill("empty@example.org");
  await page.getByLabel("Password").fill("short");
  await page.locator("input[name=display_name]").fill("Emmy Quarles");
  // The browser itself would refuse it: the server's answer is what is looked at.
  await page.$eval("main form", (form) => { form.noValidate = true; });
  await page.locator("main form button").click();
  await check("a refused registration", "Create an account");
  assert.equal(await page.locator("[aria-invalid=true]").getAttribute("id"), "password");
  await page.getByLabel("Password").fill("a long walk round the pond");
  await page.locator("main form button").click();
  await page.waitForURL((url) => !url.pathname.startsWith("/register"));
  // Nothing there yet: no league, then a league with no season, and a player without a round.
  await page.goto("/leagues");
  await check("no league", "You are not in a league yet");
  const made = await api(page, "POST", "/leagues", { name: "Empty League", time_zone: "Europe/Lisbon" });
  assert.equal(made.status, 201, JSON.stringify(made.body));
  const { id, member_id: member } = made.body;
  await page.goto(`/leagues/${id}`);
  await check("an empty league", "There is no season yet");
  await page.goto(`/members/${member}`);
  await check("a player without a round", "The differentials are shown here after the first round");
  for (const path of ["members", "findings", "organize", "journal"]) {
    const answer = await page.goto(`/leagues/${id}/${path}`);
    assert.equal(answer.status(), 200, path);
    await check(`an empty league's ${path}`, "");
  }
  const season = await api(page, "POST", `/leagues/${id}/seasons`, {
    name: "First", starts_on: "2026-01-01", ends_on: "2036-12-31", concession_ft: 2,
    competitions: [{ name: "Table", award: { kind: "by_place", table: [4, 3, 2, 1] } }],
  });
  assert.equal(season.status, 201, JSON.stringify(season.body));
  await page.goto(`/seasons/${season.body.id}`);
  await check("standings without a round", "No card has been handed in yet");
  // Not there.
  for (const path of ["/nowhere", `/rounds/${crypto.randomUUID()}`, `/findings/${crypto.randomUUID()}`]) {
    const answer = await page.goto(path);
    assert.equal(answer.status(), 404, path);
    await check(`${path} (404)`, "This was not found");
  }
  // An invitation that nobody made.
  await page.goto("/join");
  await page.getByLabel("Code").fill("ABCD-EFGH-JKLM");
  await page.locator("main form button").first().click();
  await check("a wrong code", "");
  // A link for a new password that nobody made.
  await page.goto("/new-password#nobody-made-this");
  await holds(page.getByLabel("Code for a new password"), "nobody-made-this");
  await page.getByLabel(/^New password/).fill("a long walk round the pond");
  await page.locator("main form button").click();
  await check("a spent link", "Your password was not changed");
  await page.context().close();
});

test("a page that did not change comes back for less than a kilobyte", async (t) => {
  const page = await signedIn(chromium, league, "player", { serviceWorkers: "block" });
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
  const page = await signedIn(chromium, league, "player");
  await page.goto(`/seasons/${league.season}`);
  await page.getByRole("link", { name: "My golf" }).click();
  await page.waitForURL(/\/members\//);
  await toMore(page);
  await page.getByRole("button", { name: "Sign out" }).click();
  await page.waitForURL(/\/sign-in/);
  for (let back = 0; back < 2; back++) {
    await page.goBack();
    assert.match(page.url(), /\/sign-in/, "a kept page is not shown to the next");
  }
  await page.context().close();
});

test("every chart has its words and a table, and is black on white on paper", async () => {
  const page = await signedIn(chromium, league, "organizer");
  await page.goto(`/seasons/${league.season}`);
  await page.locator("main a[href^='/members/']").first().click();
  await page.waitForURL(/\/members\//);
  const charts = await page.$$eval("svg.chart", (all) => all.map((svg) => ({
    title: svg.querySelector("title")?.textContent, words: svg.querySelector("desc")?.textContent,
    named: svg.getAttribute("aria-labelledby").split(" ").every((id) => document.getElementById(id)),
    // The figures of the first picture stand in a section of their own below it.
    figures: Boolean(svg.closest("section").querySelector("table")
      ?? (svg.closest("[aria-labelledby=answer]") && document.querySelector("[role=region][aria-label='Putting by distance'] table"))),
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

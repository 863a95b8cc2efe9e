// Handing in as a player does: on a phone's pad, on poor wifi, in two tabs, on a desktop's keyboard, without script.
import { after, before, beforeEach, test } from "node:test";
import assert from "node:assert/strict";
import { SMALL, api, browser, demo, faultsAtAllSizes, faultsInBothSchemes, handIn, holds, keptCards, signedIn,
  tapCard } from "./server.mjs";

const PHONE = { viewport: { width: 390, height: 664 }, hasTouch: true, isMobile: true };
const DESKTOP = { viewport: { width: 1280, height: 900 } };
let league, chromium;
before(async () => { chromium = await browser(); });
after(async () => { await chromium?.close(); league?.stop(); });
// Each test hands in its own card: a league of its own.
beforeEach(async () => { league?.stop(); league = await demo(...SMALL); });

const player = (options) => signedIn(chromium, league, "player", options);

const holes = (page) => page.locator("tr[data-hole]").count();
const shot = (page, name) => process.env.SHOTS && page.screenshot({ path: `${process.env.SHOTS}/${name}.png` });
const total = (page) => page.locator("#total").textContent();

const roundsOfPlayer = async (page) => {
  const me = await api(page, "GET", "/me");
  const mine = me.body.memberships[0].member_id;
  const all = await api(page, "GET", `/events/${league.event}/rounds`);
  return all.body.items.filter((round) => round.member_id === mine);
};

test("a card of 18 holes with two putts on each takes 56 taps, and nothing moves under the finger", async (t) => {
  const page = await player(PHONE);
  await page.goto("/");
  // Moves that a tap brings about are left out, as the measure does.
  await page.addInitScript(() => {
    window.moved = 0;
    new PerformanceObserver((list) => list.getEntries().forEach((entry) => { if (!entry.hadRecentInput) window.moved += entry.value; }))
      .observe({ type: "layout-shift", buffered: true });
  });
  let taps = 1;
  await page.getByRole("link", { name: "Hand in my card" }).click();
  await page.getByRole("heading", { name: "Hole 1", exact: true }).waitFor();
  assert.equal(await holes(page), 18);
  const keys = ["putt from 50 feet", "Undo", "4 strokes"];
  for (const name of keys) {
    const { y, height } = await page.getByRole("button", { name }).boundingBox();
    assert.ok(y >= 0 && y + height <= PHONE.viewport.height - 56, `${name} is on the first screen`);
  }
  const small = await page.$$eval("#pad button, .doing button", (all) => all.filter((node) => node.offsetHeight && Math.min(node.offsetHeight, node.offsetWidth) < 44).map((node) => node.textContent));
  assert.deepEqual(small, [], "every target is 44 px or larger");
  await shot(page, "pad");
  taps += await tapCard(page);
  await shot(page, "review");
  assert.match(await total(page), /after 18 holes, level par/);
  await page.getByRole("button", { name: "Hand in", exact: true }).click();
  taps += 1;
  t.diagnostic(`${taps} taps; moved by ${await page.evaluate(() => window.moved)}`);
  await page.waitForURL(/\/rounds\//);
  assert.equal(taps, 56);
  assert.match(await page.getByRole("table", { name: "Card", exact: true }).textContent(), /20 ft missed, 2 ft holed/);
  assert.equal((await roundsOfPlayer(page)).length, 1);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("nothing on the page of a card moves by itself", async () => {
  for (const options of [PHONE, DESKTOP]) {
    const page = await player(options);
    await page.addInitScript(() => {
      window.moved = 0;
      new PerformanceObserver((list) => list.getEntries().forEach((entry) => { window.moved += entry.value; })).observe({ type: "layout-shift", buffered: true });
    });
    // With a card that is kept here, which is read after the page was painted.
    await page.goto(`/events/${league.event}/hand-in`);
    await page.getByRole("button", { name: "4 strokes" }).click();
    await page.getByText("On this device only").waitFor();
    await page.reload();
    await page.getByText("as you left it").waitFor();
    await page.waitForTimeout(500);
    const moved = await page.evaluate(() => window.moved);
    assert.ok(moved <= 0.02, `moved by ${moved}`);
    await page.context().close();
  }
});

test("what has no key: a distance with a half, a gimme, no putt, a high score, a hole picked up; all of it undone", async () => {
  const page = await player(PHONE);
  await page.goto(`/events/${league.event}/hand-in`);
  const tap = (name) => page.getByRole("button", { name, exact: true }).tap();
  const said = () => page.locator("#pad .putts").textContent();
  await tap("Other distance");
  for (const name of ["2", "4", "and a half"]) await tap(name);
  await shot(page, "other");
  await tap("Add 24½ ft");
  assert.equal(await said(), "1st 24½ ft, holed");
  await tap("putt from 2 feet");
  await tap("Gimme");
  assert.equal(await said(), "1st 24½ ft · 2nd 2 ft, gimme");
  await tap("Undo");
  assert.equal(await said(), "1st 24½ ft · 2nd 2 ft, holed");
  await tap("Gimme");
  await tap("9 or more");
  await tap("1");
  await tap("2");
  await tap("Score 12");
  await page.getByRole("heading", { name: "Hole 2", exact: true }).waitFor();
  assert.match(await total(page), /^12 after 1 hole/);
  await tap("No putt");
  assert.equal(await said(), "No putt");
  await tap("Picked up");
  await holds(page.locator("#strokes_2"), "p");
  // Undo leads back through the holes, to an empty card.
  for (let n = 0; n < 4; n++) await tap("Undo");
  await page.getByRole("heading", { name: "Hole 1", exact: true }).waitFor();
  assert.deepEqual([await said(), await total(page)], ["1st 24½ ft · 2nd 2 ft, holed", "No hole yet"]);
  for (let n = 0; n < 2; n++) await tap("Undo");
  assert.equal(await said(), "No putt yet");
  await tap("Undo");
  await page.getByText("Nothing to undo.").waitFor();
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("six keys around the par of each hole, par always the third", async () => {
  const page = await player(PHONE);
  await page.goto(`/events/${league.event}/hand-in`);
  const seen = new Set();
  for (let hole = 1; hole <= 18; hole++) {
    await page.getByRole("button", { name: new RegExp(`^Hole ${hole}:`) }).tap();
    const par = Number(await page.locator("tr.current").getAttribute("data-par"));
    const keys = await page.$$eval(".score button", (all) => all.map((node) => node.querySelector(".hidden").textContent));
    const word = (n) => `${n} ${n === 1 ? "stroke" : "strokes"}`;
    assert.deepEqual(keys, ["−2", "−1", "par", "+1", "+2", "+3"].map((name, n) => `${word(par - 2 + n)}, ${name}`));
    seen.add(par);
  }
  assert.ok(seen.size >= 3, "pars of 3, 4 and 5");
  assert.deepEqual(await keptCards(page), [], "looking at holes makes no card");
  await page.context().close();
});

test("without a network the card stays on the phone, and goes out once when it is back", async () => {
  const page = await player(PHONE);
  await page.goto(`/events/${league.event}/hand-in`);
  await page.evaluate(async () => {
    while (!(await caches.match(location.pathname))) await new Promise((done) => setTimeout(done, 50));
  });
  await page.context().setOffline(true);
  for (let hole = 0; hole < 3; hole++) await page.getByRole("button", { name: /, par$/ }).tap();
  await page.getByText("On this device only").waitFor();
  await page.reload();
  await page.getByRole("heading", { name: "Hole 4", exact: true }).waitFor();
  assert.match(await total(page), /after 3 holes, level par/);
  await tapCard(page);
  await handIn(page);
  await page.getByText("1 card waits: no network yet").waitFor();
  // Killed while it waits: the next visit sends it.
  await page.reload();
  await page.getByText("1 card waits: no network yet").waitFor();
  await page.context().setOffline(false);
  await page.waitForURL(/\/rounds\//, { timeout: 10_000 });
  assert.equal((await roundsOfPlayer(page)).length, 1, "handed in once");
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("an answer that was lost doubles nothing", async () => {
  const page = await player(PHONE);
  await page.goto(`/events/${league.event}/hand-in`);
  await tapCard(page);
  let lost = 0;
  await page.route("**/hand-in", async (route) => {
    if (route.request().method() !== "POST" || lost++) return route.continue();
    await route.fetch({ maxRedirects: 0 });
    return route.abort();
  });
  await handIn(page);
  await page.waitForURL(/\/rounds\//, { timeout: 10_000 });
  assert.ok(lost >= 2);
  assert.equal((await roundsOfPlayer(page)).length, 1, "handed in once");
  await page.context().close();
});

test("what looks odd is asked in the review, and a tap on the question opens its hole", async () => {
  const page = await player(PHONE);
  await page.goto(`/events/${league.event}/hand-in`);
  // The second hole is passed over; the third has a gimme that is too long, and a longer second putt.
  await page.getByRole("button", { name: /, par$/ }).tap();
  await page.getByRole("button", { name: "Hole 3: empty" }).tap();
  await page.getByRole("button", { name: "putt from 10 feet" }).tap();
  await page.getByRole("button", { name: "putt from 30 feet" }).tap();
  await page.getByRole("button", { name: "Gimme" }).tap();
  await page.getByRole("button", { name: "5 strokes" }).tap();
  await tapCard(page);
  assert.equal(await page.evaluate(() => document.activeElement.id), "review");
  const asked = await page.locator("#review .faults").innerText();
  for (const words of ["Hole 2: no score. Was it not played?", "Hole 3: a putt from 30 ft after one from 10 ft?", "Hole 3: a gimme from 30 ft?"]) {
    assert.ok(asked.includes(words), `${words}: ${asked}`);
  }
  assert.equal((await roundsOfPlayer(page)).length, 0, "nothing was sent");
  await shot(page, "odd");
  await page.locator("#review .faults").getByRole("link", { name: "Hole 3" }).last().tap();
  await page.getByRole("heading", { name: "Hole 3", exact: true }).waitFor();
  for (let n = 0; n < 2; n++) await page.getByRole("button", { name: "Gimme" }).tap();
  await page.getByRole("button", { name: "Gimme" }).tap();
  await page.getByRole("button", { name: "Hole 2: empty" }).tap();
  await page.getByRole("button", { name: /, par$/ }).tap();
  // Every hole has a score: the review opens again.
  assert.doesNotMatch(await page.locator("#review .faults").innerText(), /Hole 2|gimme/);
  await handIn(page);
  await page.waitForURL(/\/rounds\//);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("an answer that brings no card leaves the typed one where it is", async () => {
  const page = await player(PHONE);
  await page.goto(`/events/${league.event}/hand-in`);
  await tapCard(page);
  await page.route("**/hand-in", (route) =>
    route.request().method() === "POST" ? route.fulfill({ status: 404, contentType: "text/html", body: "<p>Gone" }) : route.continue());
  await handIn(page);
  await page.getByText("Not saved: the card is on this device only. The server answered 404.").waitFor();
  assert.notEqual(await page.locator("#strokes_1").inputValue(), "");
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("of two tabs one writes and the other says so", async () => {
  const first = await player(PHONE);
  await first.goto(`/events/${league.event}/hand-in`);
  await first.getByRole("button", { name: "4 strokes" }).tap();
  await first.getByText("On this device only").waitFor();
  const second = await first.context().newPage();
  await second.goto(`/events/${league.event}/hand-in`);
  await second.getByText("This card is open in another tab.").waitFor();
  assert.ok(await second.getByRole("button", { name: "putt from 20 feet" }).isDisabled());
  await second.getByRole("button", { name: "Write on here" }).click();
  await holds(second.locator("#strokes_1"), "4", "what the first wrote is there");
  await first.getByText("This card is open in another tab.").waitFor();
  assert.ok(await first.getByRole("button", { name: "putt from 20 feet" }).isDisabled());
  await first.context().close();
});

test("a desktop's keyboard fills the card in with 90 keys, Enter going across, and one more hands it in", async (t) => {
  const page = await player(DESKTOP);
  await page.goto(`/events/${league.event}/hand-in`);
  await page.waitForFunction(() => document.activeElement.id === "strokes_1");
  let keys = 0;
  const press = async (key) => { await page.keyboard.press(key); keys += 1; };
  for (let hole = 0; hole < 18; hole++) for (const key of ["5", "9", " ", "2", "Enter"]) await press(key);
  t.diagnostic(`${keys} keys`);
  assert.equal(keys, 90);
  assert.equal(await page.evaluate(() => document.activeElement.textContent), "Hand in");
  await shot(page, "desktop-review");
  await press("Enter");
  await page.waitForURL(/\/rounds\//);
  const round = await api(page, "GET", new URL(page.url()).pathname);
  assert.ok(round.body.holes.every(({ strokes, putts }) => strokes === 5 && putts.length === 2 && putts[0].distance_ft === 9));
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("faults stand beside their hole, nothing typed is lost, and a stored card is changed", async () => {
  const page = await player(DESKTOP);
  await page.goto(`/events/${league.event}/hand-in`);
  await page.waitForFunction(() => document.activeElement.id === "strokes_1");
  for (let hole = 1; hole <= 18; hole++) {
    await page.keyboard.type("5");
    await page.keyboard.type(hole === 3 ? "31 300" : "31 1.5c");
    await page.keyboard.press("Enter");
  }
  assert.match(await page.locator("#review").textContent(), /Hole 3: a putt from 300 ft after one from 31 ft\?/);
  await handIn(page);
  await page.locator("#faults").waitFor();
  assert.match(await page.locator("#fault_3").textContent(), /200/, "the limit is named");
  await holds(page.locator("#putts_3"), "31 300");
  await holds(page.locator("#putts_1"), "31 1.5c");
  assert.equal(await page.evaluate(() => document.activeElement.id), "faults");
  await page.locator("#putts_3").fill("31 3");
  await handIn(page);
  await page.waitForURL(/\/rounds\//);
  await page.goto(`/events/${league.event}/hand-in`);
  await holds(page.locator("#putts_1"), "31 1.5c", "the stored card comes back");
  await page.locator("#strokes_1").fill("6");
  await page.getByRole("button", { name: "Review" }).click();
  await page.getByRole("button", { name: "Save the change" }).click();
  await page.waitForURL(/\/rounds\//);
  assert.equal((await roundsOfPlayer(page)).length, 1);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("a card is handed in without script, nine holes at a time", async () => {
  const page = await player({ ...PHONE, javaScriptEnabled: false });
  await page.goto(`/events/${league.event}/hand-in`);
  assert.equal(await page.locator("tr[data-hole]:visible").count(), 9);
  for (let hole = 1; hole <= 9; hole++) await page.locator(`#strokes_${hole}`).fill(hole === 1 ? "x" : "5");
  await page.getByLabel("Second nine").check();
  assert.equal(await page.locator("#strokes_9").isVisible(), false);
  for (let hole = 10; hole <= 18; hole++) await page.locator(`#strokes_${hole}`).fill("5");
  await page.getByRole("button", { name: "Hand in" }).click();
  assert.match(await page.locator("#faults").textContent(), /Hole 1: strokes are a number/);
  await page.locator("#strokes_1").fill("4");
  await page.getByRole("button", { name: "Hand in" }).click();
  assert.match(page.url(), /\/rounds\//);
  await page.context().close();
});

test("the pad, the number pad and the review are for everybody, at each width, light and dark", async () => {
  const page = await player({ ...PHONE, bypassCSP: true });
  await page.goto(`/events/${league.event}/hand-in`);
  const found = [];
  const check = async (what) => found.push(...(await faultsAtAllSizes(page)).map((fault) => `${what}: ${fault}`));
  await page.getByRole("button", { name: "putt from 20 feet" }).click();
  await check("pad");
  await page.setViewportSize(PHONE.viewport);
  await page.getByRole("button", { name: "Other distance" }).click();
  found.push(...(await faultsInBothSchemes(page)).map((fault) => `other: ${fault}`));
  await page.getByRole("button", { name: "Cancel" }).click();
  await page.getByRole("button", { name: "Review" }).click();
  await check("review");
  assert.deepEqual(found, []);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

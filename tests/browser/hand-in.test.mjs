// Handing in as a player does: on a phone, on poor wifi, in two tabs, on a desktop's keyboard.
import { after, before, beforeEach, test } from "node:test";
import assert from "node:assert/strict";
import { SMALL, api, browser, demo, signedIn } from "./server.mjs";

const PHONE = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true };
let league, chromium;
before(async () => { chromium = await browser(); });
after(async () => { await chromium?.close(); league?.stop(); });
// Each test hands in its own card: a league of its own.
beforeEach(async () => { league?.stop(); league = await demo(...SMALL); });

const player = (options) => signedIn(chromium, league, "player", options);

const holes = (page) => page.locator("tr[data-hole]").count();

/** Fills in every hole by tapping: its par, two putts. */
async function tapCard(page, from, to) {
  for (let hole = from; hole < to; hole++) {
    const par = await page.locator("tr.current").getAttribute("data-par");
    await page.getByRole("button", { name: `${par} strokes` }).tap();
    await page.getByRole("button", { name: "putt from 20 feet" }).tap();
    await page.getByRole("button", { name: "putt from 2 feet", exact: true }).tap();
    if (hole + 1 < (await holes(page))) await page.getByRole("button", { name: "Next hole" }).tap();
  }
}

const roundsOfPlayer = async (page) => {
  const me = await api(page, "GET", "/me");
  const mine = me.body.memberships[0].member_id;
  const all = await api(page, "GET", `/events/${league.event}/rounds`);
  return all.body.items.filter((round) => round.member_id === mine);
};

test("a card is tapped in on a phone: the first score in three taps", async () => {
  const page = await player(PHONE);
  await page.goto(`/events/${league.event}`);
  await page.getByRole("link", { name: "Hand in a round" }).tap();
  const par = await page.locator("tr.current").getAttribute("data-par");
  await page.getByRole("button", { name: `${par} strokes` }).tap();
  assert.match(await page.locator("#total").textContent(), /after 1 hole: level par/);
  const small = await page.$$eval("#pad button, #send", (all) => all.filter((node) => node.offsetHeight && Math.min(node.offsetHeight, node.offsetWidth) < 44).length);
  assert.equal(small, 0, "every target is 44 px or larger");
  await page.reload();
  assert.match(await page.locator("#total").textContent(), /after 1 hole/, "a reload loses nothing");
  await tapCard(page, 0, await holes(page));
  await page.getByRole("button", { name: "Hand in" }).tap();
  await page.waitForURL(/\/rounds\//);
  assert.match(await page.getByRole("table", { name: "Card", exact: true }).textContent(), /20 ft missed, 2 ft holed/);
  assert.equal((await roundsOfPlayer(page)).length, 1);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("without a network the card stays on the phone, and goes out once when it is back", async () => {
  const page = await player(PHONE);
  await page.goto(`/events/${league.event}/hand-in`);
  await page.evaluate(async () => {
    while (!(await caches.match(location.pathname))) await new Promise((done) => setTimeout(done, 50));
  });
  await page.context().setOffline(true);
  await tapCard(page, 0, 3);
  await page.reload();
  assert.equal(await page.locator("#strokes_1").inputValue(), await page.locator("tr[data-hole='1']").getAttribute("data-par"));
  await tapCard(page, 3, await holes(page));
  await page.getByRole("button", { name: "Hand in" }).tap();
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
  await tapCard(page, 0, await holes(page));
  let lost = 0;
  await page.route("**/hand-in", async (route) => {
    if (route.request().method() !== "POST" || lost++) return route.continue();
    await route.fetch({ maxRedirects: 0 });
    return route.abort();
  });
  await page.getByRole("button", { name: "Hand in" }).tap();
  await page.waitForURL(/\/rounds\//, { timeout: 10_000 });
  assert.ok(lost >= 2);
  assert.equal((await roundsOfPlayer(page)).length, 1, "handed in once");
  await page.context().close();
});

test("what looks odd is asked first, and a tap on the question opens its hole", async () => {
  const page = await player(PHONE);
  await page.goto(`/events/${league.event}/hand-in`);
  await tapCard(page, 0, await holes(page));
  await page.getByRole("button", { name: "Hole before" }).tap();
  const hole = await page.locator("tr.current").getAttribute("data-hole");
  await page.locator(`#strokes_${hole}`).fill("");
  await page.getByRole("button", { name: "Next hole" }).tap();
  await page.getByRole("button", { name: "Hand in" }).tap();
  assert.equal(await page.evaluate(() => document.activeElement.id), "review");
  assert.equal((await roundsOfPlayer(page)).length, 0, "nothing was sent");
  if (process.env.SHOTS) await page.screenshot({ path: `${process.env.SHOTS}/review.png`, fullPage: true });
  await page.getByRole("link", { name: `Hole ${hole}`, exact: true }).tap();
  assert.equal(await page.locator("tr.current").getAttribute("data-hole"), hole);
  await page.locator(`#strokes_${hole}`).fill("5");
  await page.getByRole("button", { name: "Hand in" }).tap();
  await page.waitForURL(/\/rounds\//);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("an answer that brings no card leaves the typed one where it is", async () => {
  const page = await player(PHONE);
  await page.goto(`/events/${league.event}/hand-in`);
  await tapCard(page, 0, await holes(page));
  await page.route("**/hand-in", (route) =>
    route.request().method() === "POST" ? route.fulfill({ status: 404, contentType: "text/html", body: "<p>Gone" }) : route.continue());
  await page.getByRole("button", { name: "Hand in" }).tap();
  await page.getByText("Needs you: the card is on this phone only. The server answered 404.").waitFor();
  assert.notEqual(await page.locator("#strokes_1").inputValue(), "");
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("of two tabs one writes and the other says so", async () => {
  const first = await player(PHONE);
  await first.goto(`/events/${league.event}/hand-in`);
  await first.getByRole("button", { name: "4 strokes" }).tap();
  const second = await first.context().newPage();
  await second.goto(`/events/${league.event}/hand-in`);
  await second.getByText("This card is open in another tab.").waitFor();
  assert.ok(await second.locator("#strokes_1").isDisabled());
  await second.getByRole("button", { name: "Write on here" }).click();
  assert.equal(await second.locator("#strokes_1").inputValue(), "4", "what the first wrote is there");
  await first.getByText("This card is open in another tab.").waitFor();
  assert.ok(await first.locator("#strokes_1").isDisabled());
  await first.context().close();
});

test("a desktop's keyboard fills in the card; faults stand beside their hole and nothing typed is lost", async () => {
  const page = await player({ viewport: { width: 1280, height: 800 } });
  await page.goto(`/events/${league.event}/hand-in`);
  const count = await holes(page);
  await page.locator("#strokes_1").focus();
  for (let hole = 0; hole < count; hole++) {
    await page.keyboard.type("5");
    await page.keyboard.type(hole === 2 ? "31 300" : "31 1.5c");
    await page.keyboard.press("Tab");
  }
  await page.getByRole("button", { name: "Hand in" }).click();
  assert.match(await page.locator("#review").textContent(), /Hole 3: a putt from 300 ft after one from 31 ft\?/);
  await page.getByRole("button", { name: "Yes, send it" }).click();
  await page.locator("#faults").waitFor();
  assert.match(await page.locator("#fault_3").textContent(), /200/, "the limit is named");
  assert.equal(await page.locator("#putts_3").inputValue(), "31 300");
  assert.equal(await page.locator("#putts_1").inputValue(), "31 1.5c");
  assert.equal(await page.evaluate(() => document.activeElement.id), "faults");
  await page.locator("#putts_3").fill("31 3");
  await page.getByRole("button", { name: "Hand in" }).click();
  await page.waitForURL(/\/rounds\//);
  await page.goto(`/events/${league.event}/hand-in`);
  assert.equal(await page.locator("#putts_1").inputValue(), "31 1.5c", "the stored card comes back");
  await page.locator("#strokes_1").fill("6");
  await page.getByRole("button", { name: "Store the change" }).click();
  await page.waitForURL(/\/rounds\//);
  assert.equal((await roundsOfPlayer(page)).length, 1);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("a card is handed in without script", async () => {
  const page = await player({ javaScriptEnabled: false });
  await page.goto(`/events/${league.event}/hand-in`);
  for (let hole = 1; hole <= (await holes(page)); hole++) await page.locator(`#strokes_${hole}`).fill(hole === 1 ? "x" : "5");
  await page.getByRole("button", { name: "Hand in" }).click();
  assert.match(await page.locator("#faults").textContent(), /Hole 1: strokes are a number/);
  await page.locator("#strokes_1").fill("4");
  await page.getByRole("button", { name: "Hand in" }).click();
  assert.match(page.url(), /\/rounds\//);
  await page.context().close();
});

// What is done by clicking and by keyboard alone: cards for others, queries, rulings, signing out; a card through every
// lost network.
import { after, before, test } from "node:test";
import assert from "node:assert/strict";
import { api, browser, demo, handIn, holds, keptCards, me, signedIn, tapCard } from "./server.mjs";

const PHONE = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true };
const DESKTOP = { viewport: { width: 1280, height: 800 } };
let league, chromium;
before(async () => { chromium = await browser(); league = await demo(); });
after(async () => { await chromium?.close(); league?.stop(); });

const open = (who, options) => signedIn(chromium, league, who, options);

const rounds = async (page) => (await api(page, "GET", `/events/${league.event}/rounds?limit=200`)).body.items;

/** Presses Tab until a thing has the focus; it must be seen then. */
async function tabTo(page, locator) {
  const node = await locator.elementHandle();
  for (let n = 0; n < 400; n++) {
    await page.keyboard.press("Tab");
    if (await page.evaluate((node) => document.activeElement === node, node)) {
      const seen = await page.evaluate(async () => {
        await new Promise(requestAnimationFrame);
        const focus = document.activeElement, box = focus.getBoundingClientRect();
        const top = document.elementFromPoint(box.x + Math.min(box.width / 2, 20), box.y + Math.min(box.height / 2, 15));
        return focus === top || focus.contains(top);
      });
      assert.ok(seen, `what has the focus is not covered: ${locator}`);
      return;
    }
  }
  assert.fail(`${locator} is not reached by Tab`);
}
const press = async (page, locator, key = "Enter") => { await tabTo(page, locator); await page.keyboard.press(key); };

test("six tasks by keyboard alone", async () => {
  const context = await chromium.newContext({ baseURL: league.base, ...DESKTOP });
  const page = await context.newPage();
  // Sign in.
  await page.goto("/sign-in");
  await tabTo(page, page.getByLabel("E-mail"));
  await page.keyboard.type(league.organizer.email);
  await tabTo(page, page.getByLabel("Password"));
  await page.keyboard.type(league.organizer.password);
  await page.keyboard.press("Enter");
  await page.waitForURL((url) => !url.pathname.startsWith("/sign-in"));
  const own = await me(page);
  const other = (await rounds(page)).find((round) => round.member_id !== own && round.state !== "withdrawn");
  // Stop the board.
  await page.goto(`/events/${league.event}`);
  await press(page, page.getByRole("button", { name: "Pause" }), "Space");
  assert.equal(await page.locator("#pause").getAttribute("aria-pressed"), "true");
  // Query this card.
  await page.goto(`/rounds/${other.id}`);
  await press(page, page.getByText("Query this card"));
  await tabTo(page, page.getByLabel("Your query, up to 2,000 characters"));
  await page.keyboard.type("Was hole 2 a five?");
  await press(page, page.getByRole("button", { name: "Send query" }));
  await page.getByText("Was hole 2 a five?").waitFor();
  // Answer it.
  await press(page, page.locator("#queries summary", { hasText: "Answer" }).first());
  await tabTo(page, page.getByLabel("Your answer, up to 2,000 characters"));
  await page.keyboard.type("The player says yes.");
  await press(page, page.getByRole("button", { name: "Send answer" }));
  await page.getByText("The player says yes.").waitFor();
  // Rule on the round, its effect seen first.
  await press(page, page.getByRole("link", { name: "Rule on this round" }));
  await page.waitForURL(/\/ruling$/);
  await tabTo(page, page.getByLabel("Correct the card as below"));
  await page.keyboard.press("Space");
  await page.keyboard.press("ArrowDown");
  assert.ok(await page.getByLabel(/Exclude this round/).isChecked());
  await tabTo(page, page.getByLabel("Reason (the player reads it)"));
  await page.keyboard.type("handed in for another night");
  await press(page, page.getByRole("button", { name: "Show the effect" }));
  await press(page, page.getByRole("button", { name: "Cancel" }));
  await page.getByRole("button", { name: "Show the effect" }).waitFor();
  await holds(page.getByLabel("Reason (the player reads it)"), "handed in for another night");
  assert.ok(await page.getByLabel(/Exclude this round/).isChecked(), "nothing typed is lost");
  await press(page, page.getByRole("button", { name: "Show the effect" }));
  await press(page, page.getByRole("button", { name: "Confirm ruling" }));
  await page.waitForURL(/\/rounds\/[0-9a-f-]+$/);
  await page.getByText("excluded, receipt").waitFor();
  // Sign out.
  await press(page, page.getByRole("link", { name: "More", exact: true }));
  await page.waitForURL("**/more");
  await press(page, page.getByRole("button", { name: "Sign out" }));
  await page.waitForURL(/\/sign-in/);
  await context.close();
});

test("an organizer hands in for somebody else, on a phone and on a desktop", async () => {
  for (const options of [PHONE, DESKTOP]) {
    const page = await open("organizer", options);
    await page.goto(`/events/${league.event}`);
    await page.getByText("Hand in for another player").click();
    const name = await page.locator("#for_member option").first().textContent();
    await page.getByRole("button", { name: "Open the card" }).click();
    await page.getByRole("heading", { name: `Card of ${name}` }).waitFor();
    await tapCard(page);
    await handIn(page);
    await page.waitForURL(/\/rounds\//);
    assert.match(await page.locator("h1").textContent(), new RegExp(`^${name}`));
    assert.deepEqual(page.faults, []);
    await page.context().close();
  }
});

test("signing out asks about a card that only this device has", async () => {
  const page = await open("player", PHONE);
  await page.goto(`/events/${league.event}/hand-in`);
  await page.getByRole("button", { name: "4 strokes" }).tap();
  await page.getByText("On this device only").waitFor();
  await page.goto("/leagues");
  await page.getByRole("button", { name: "Sign out" }).tap();
  await page.getByText("a card is on this device only").waitFor();
  assert.equal(await page.evaluate(() => document.activeElement.id), "leaving");
  const saving = page.waitForEvent("download");
  await page.getByRole("link", { name: "Save it as a file" }).click();
  assert.match((await saving).suggestedFilename(), /^card-.*\.json$/);
  await page.getByRole("button", { name: "Stay" }).tap();
  await page.getByRole("button", { name: "Sign out" }).tap();
  await page.getByRole("link", { name: "Look at it and send it" }).tap();
  await page.getByText("On this device only, as you left it.").waitFor();
  await holds(page.locator("#strokes_1"), "4");
  await page.goto("/leagues");
  await page.getByRole("button", { name: "Sign out" }).tap();
  await page.getByRole("button", { name: "Discard it and sign out" }).tap();
  await page.waitForURL(/\/sign-in/);
  assert.deepEqual(await keptCards(page), [], "nothing is left");
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

// Each step of a card, and the two of its sending: the network goes after one of them, and the page is loaded anew or
// killed. Every card is handed in once.
const POINTS = 24;
for (const how of ["reload", "kill"]) {
  test(`the network goes at ${POINTS} points, then a ${how}: no card is lost or doubled`, async () => {
    let page = await open("player", PHONE);
    const context = page.context();
    const mine = await me(page);
    const address = `/events/${league.event}/hand-in`;
    await page.goto(address);
    await page.evaluate(async () => {
      while (!(await caches.match(location.pathname))) await new Promise((done) => setTimeout(done, 50));
    });
    const slow = [];
    for (let point = 0; point < POINTS; point++) {
      const before = (await rounds(page)).filter((round) => round.member_id === mine).length;
      await page.goto(address);
      const holes = await page.locator("tr[data-hole]").count();
      const click = (name) => page.locator("#pad").getByRole("button", { name }).click();
      const steps = [];
      for (let hole = 0; hole < holes; hole++) steps.push(async () => {
        if (hole % 3 === 0) await click("putt from 2 feet");
        await click(/^4 strokes/);
      });
      // The points are spread over the holes; the last four are around the sending.
      const cut = Math.min(Math.floor((point * holes) / (POINTS - 4)), holes);
      for (const step of steps.slice(0, cut)) await step();
      const isAnswerLost = point >= POINTS - 2;
      if (isAnswerLost) {
        for (const step of steps.slice(cut)) await step();
        await context.route("**/hand-in", async (route) => {
          if (route.request().method() !== "POST") return route.continue();
          await route.fetch({ maxRedirects: 0 });
          await context.setOffline(true);
          return route.abort();
        });
        await handIn(page);
        await page.getByText("1 card waits: no network yet").waitFor();
        await context.unroute("**/hand-in");
      } else {
        await context.setOffline(true);
        if (cut === holes) {
          await handIn(page);
          await page.getByText("1 card waits: no network yet").waitFor();
        }
      }
      if (how === "reload") {
        await page.reload();
      } else {
        await page.close({ runBeforeUnload: false });
        page = await context.newPage();
        await page.goto(address);
      }
      if (!isAnswerLost && cut < holes) {
        await page.getByRole("heading", { name: `Hole ${cut + 1}`, exact: true }).waitFor();
        for (const step of steps.slice(cut)) await step();
        await handIn(page);
      }
      await page.getByText("1 card waits: no network yet").waitFor();
      const back = Date.now();
      await context.setOffline(false);
      await page.waitForURL(/\/rounds\//, { timeout: 20_000 });
      slow.push(Date.now() - back);
      const now = (await rounds(page)).filter((round) => round.member_id === mine);
      assert.equal(now.length, before + 1, `point ${point}: handed in once`);
      const stored = await api(page, "GET", page.url().match(/\/rounds\/[0-9a-f-]+/)[0]);
      assert.ok(stored.body.holes.every((hole) => hole.strokes === 4), `point ${point}: nothing typed is lost`);
      // Taken back, so that the next card can be handed in.
      await page.getByText("Withdraw this round").click();
      await page.getByRole("button", { name: "Withdraw it" }).click();
      await page.getByText("withdrawn, receipt").waitFor();
    }
    assert.ok(Math.max(...slow) <= 5000, `saved within 5 s of the network's return: ${slow}`);
    await context.close();
  });
}

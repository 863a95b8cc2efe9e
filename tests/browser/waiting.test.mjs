// A card that waits on a phone: said at once, shown on every page, sent from every page, by the account that filled it in
// and nobody else; and what pages ask before they do what cannot be undone.
import { after, afterEach, before, test } from "node:test";
import assert from "node:assert/strict";
import { api, browser, demo, handIn, keptCards, me, signIn, signedIn, tapCard, toMore, until } from "./server.mjs";

const PHONE = { viewport: { width: 390, height: 664 }, hasTouch: true, isMobile: true };
const DESKTOP = { viewport: { width: 1280, height: 800 } };
let league, chromium;
before(async () => { [league, chromium] = await Promise.all([demo(), browser()]); });
after(async () => { await chromium?.close(); league?.stop(); });
// Each test hands in its own card.
afterEach(async () => {
  const page = await open("player", DESKTOP);
  await withdraw(page, await me(page));
  await page.context().close();
});

const open = (who, options) => signedIn(chromium, league, who, options);

const shot = async (page, name) => {
  if (process.env.SHOTS) await page.screenshot({ path: `${process.env.SHOTS}/${name}.png`, fullPage: true });
};
/** Takes a card back, so that another can be handed in. */
const withdraw = async (page, member) => {
  const all = await api(page, "GET", `/events/${league.event}/rounds?limit=200`);
  const card = all.body.items.find((round) => round.member_id === member && round.state !== "withdrawn");
  if (!card) return;
  await page.goto(`/rounds/${card.id}`);
  await page.getByRole("button", { name: "Withdraw this round" }).click();
  await page.getByRole("button", { name: "Withdraw it" }).click();
  await page.getByText("withdrawn, receipt").waitFor();
};
const cardsOf = async (page, member) => {
  const all = await api(page, "GET", `/events/${league.event}/rounds?limit=200`);
  return all.body.items.filter((round) => round.member_id === member && round.state !== "withdrawn").length;
};

/** No card reaches the server until the answer of this is called. */
async function unreachable(page, how = (route) => route.abort()) {
  const context = page.context(), sent = [];
  await context.route("**/hand-in*", (route) => {
    if (route.request().method() !== "POST") return route.continue();
    sent.push(new URL(route.request().frame().url()).pathname);
    return how(route);
  });
  return { sent, back: () => context.unroute("**/hand-in*") };
}
const bar = (page) => page.locator("#waiting");

test("without a network the button says at once what becomes of the card, and where", async () => {
  const page = await open("player", PHONE);
  await page.goto(`/events/${league.event}/hand-in`);
  await tapCard(page);
  await page.context().setOffline(true);
  await handIn(page);
  const said = page.locator("#send-state");
  await said.getByText("Kept on this device").waitFor();
  const [button, words] = await Promise.all([page.getByRole("button", { name: "Hand in", exact: true }).boundingBox(), said.boundingBox()]);
  assert.ok(Math.abs(words.y - button.y) < 120, "it stands beside the button");
  assert.ok(words.y >= 0 && words.y + words.height <= PHONE.viewport.height, "and is in view");
  await said.getByText("It is sent as soon as there is one").waitFor();
  await bar(page).getByText("1 card waits: no network yet").waitFor();
  await shot(page, "no-network");
  const mine = await page.locator("#card").getAttribute("data-member");
  await page.context().setOffline(false);
  await page.waitForURL(/\/rounds\//);
  assert.equal(await cardsOf(page, mine), 1);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("a card that waits is shown on every page, and is sent from whichever is open", async () => {
  const page = await open("player", PHONE);
  const mine = await me(page);
  const paths = ["/leagues", "/notices", `/seasons/${league.season}`, `/members/${mine}`, "/account", `/rounds/${crypto.randomUUID()}`];
  for (const [n, path] of paths.entries()) {
    await page.goto(`/events/${league.event}/hand-in`);
    await tapCard(page);
    // The answer is lost as well where n is odd: the card was stored, and is stored once.
    const isStored = n % 2 === 1;
    const lost = await unreachable(page, async (route) => {
      if (isStored) await route.fetch({ maxRedirects: 0 });
      return route.abort();
    });
    await handIn(page);
    await page.locator("#send-state").getByText("no network yet").waitFor();
    await page.goto(path);
    await bar(page).getByText("1 card waits: no network yet").waitFor();
    if (path === "/leagues") await shot(page, "bar");
    await lost.back();
    await page.evaluate(() => dispatchEvent(new Event("online")));
    await bar(page).getByText("Your card was handed in.").waitFor();
    assert.ok(lost.sent.includes(path), `${path} tried as well: ${lost.sent}`);
    await bar(page).getByRole("link", { name: "See the card" }).click();
    await page.waitForURL(/\/rounds\//);
    assert.equal(await cardsOf(page, mine), 1, `${path}: handed in once`);
    await withdraw(page, mine);
  }
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("a busy server is given the time that it asks for, on every page", async () => {
  const page = await open("player", PHONE);
  const mine = await me(page);
  await page.goto(`/events/${league.event}/hand-in`);
  await tapCard(page);
  const busy = await unreachable(page, (route) => route.fulfill({ status: 503, headers: { "retry-after": "3000" }, contentType: "text/html", body: "<p>Busy" }));
  await handIn(page);
  await bar(page).getByText("1 card waits: the server is busy").waitFor();
  await page.goto("/leagues");
  await bar(page).getByText(/Sending again in [0-9]+ s\./).waitFor();
  await page.evaluate(() => dispatchEvent(new Event("online")));
  await page.goto("/notices");
  await bar(page).getByText(/Sending again in [0-9]+ s\./).waitFor();
  assert.equal(busy.sent.length, 1, "asked once, and not again before its time");
  await busy.back();
  await bar(page).getByRole("button", { name: "Send now" }).click();
  await bar(page).getByText("Your card was handed in.").waitFor();
  assert.equal(await cardsOf(page, mine), 1);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("another account at the same phone neither sends a card nor learns of it, and does not lose it", async () => {
  const page = await open("player", PHONE);
  const mine = await me(page);
  await page.goto(`/events/${league.event}/hand-in`);
  await tapCard(page);
  const gone = await unreachable(page);
  await handIn(page);
  await bar(page).getByText("1 card waits").waitFor();
  await gone.back();
  // The session ends without a sign-out, and somebody else signs in.
  await page.context().clearCookies();
  await page.goto("/sign-in");
  assert.equal(await bar(page).count(), 0, "nobody is signed in: nothing is named");
  await signIn(page, league.base, league.organizer);
  const watched = await unreachable(page, (route) => route.continue());
  for (const path of ["/leagues", `/events/${league.event}`, `/events/${league.event}/hand-in`]) {
    await page.goto(path);
    await page.evaluate(() => { dispatchEvent(new Event("online")); document.dispatchEvent(new Event("visibilitychange")); });
    await page.evaluate(() => new Promise((done) => { setTimeout(done, 300); }));
    assert.ok(await bar(page).isHidden(), `${path} shows nothing of it`);
  }
  assert.deepEqual(watched.sent, [], "nothing was sent");
  // Signing out asks about own cards only, and discards no other.
  await page.goto("/leagues");
  await page.getByRole("button", { name: "Sign out" }).click();
  await page.waitForURL(/\/sign-in/);
  await signIn(page, league.base, league.player);
  await bar(page).getByText("Your card was handed in.").waitFor();
  assert.equal(await cardsOf(page, mine), 1);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("a card that was refused stays until it is discarded, which asks", async () => {
  const page = await open("player", PHONE);
  await page.goto(`/events/${league.event}/hand-in`);
  await tapCard(page);
  const refused = await unreachable(page, (route) =>
    route.fulfill({ status: 409, contentType: "text/html", body: '<main id="main"><p>The event is final.</p></main>' }));
  await handIn(page);
  await page.locator("#send-state").getByText("The event is final.").waitFor();
  await page.goto("/leagues");
  await bar(page).getByText("Your card was not handed in: The event is final.").waitFor();
  await shot(page, "refused");
  assert.ok(await bar(page).getByRole("link", { name: "Open it" }).isVisible());
  assert.ok(await bar(page).getByRole("link", { name: "Save it as a file" }).isVisible());
  page.once("dialog", (dialog) => dialog.dismiss());
  await bar(page).getByRole("button", { name: "Discard it" }).click();
  assert.ok(await bar(page).isVisible(), "it is still there");
  page.once("dialog", (dialog) => dialog.accept());
  await bar(page).getByRole("button", { name: "Discard it" }).click();
  await bar(page).waitFor({ state: "hidden" });
  assert.deepEqual(await keptCards(page), []);
  await refused.back();
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("a box that is not ticked is not sent as ticked", async () => {
  const page = await open("player", PHONE);
  const mine = await me(page);
  await page.goto(`/events/${league.event}/hand-in`);
  await page.getByText("Simulator, date, finished?").click();
  await page.getByLabel("Played on").fill("2026-01-02");
  await tapCard(page);
  await handIn(page);
  const confirm = page.getByLabel("The date is right");
  for (let turn = 0; turn < 2; turn++) {
    await page.locator("#faults").waitFor();
    assert.equal(await confirm.isChecked(), false, "nobody ticked it");
    assert.equal(await cardsOf(page, mine), 0, "nothing was handed in");
    if (turn === 0) {
      await page.evaluate(() => document.getElementById("faults").remove());
      await handIn(page);
    }
  }
  await confirm.check();
  await handIn(page);
  await page.waitForURL(/\/rounds\//);
  assert.equal(await cardsOf(page, mine), 1);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

for (const colorScheme of ["light", "dark"]) {
  test(`the whole card shows every putt on a phone, ${colorScheme}`, async () => {
    const page = await open("player", { ...PHONE, colorScheme });
    await page.goto(`/events/${league.event}/hand-in`);
    await page.getByRole("button", { name: "Type the whole card" }).click();
    await page.locator("#putts_1").fill("31.5 12.5 1.5c");
    const hidden = await page.$$eval(".holes input, .holes th, .holes td", (all) => all.filter((node) => {
      const box = node.getBoundingClientRect();
      return box.right > innerWidth || box.left < 0 || node.scrollWidth > node.clientWidth + 1;
    }).map((node) => node.id || node.textContent));
    assert.deepEqual(hidden, [], "nothing is cut off");
    const { is, may } = await page.evaluate(() => ({ is: document.documentElement.scrollWidth, may: innerWidth }));
    assert.ok(is <= may, `${is} px on ${may}`);
    await shot(page, `whole-card-${colorScheme}`);
    await page.getByRole("button", { name: "One hole at a time" }).click();
    assert.equal(await page.locator("tr[data-hole]:visible").count(), 0);
    // The card that was handed in is read without moving it sideways either.
    await page.getByRole("button", { name: "6 strokes" }).click();
    await tapCard(page);
    await handIn(page);
    await page.waitForURL(/\/rounds\//);
    const wide = await page.getByRole("region", { name: "Card", exact: true }).evaluate((node) => [node.scrollWidth, node.clientWidth]);
    assert.ok(wide[0] <= wide[1], `the card is ${wide[0]} px wide, ${wide[1]} are seen`);
    await shot(page, `card-${colorScheme}`);
    assert.deepEqual(page.faults, []);
    await page.context().close();
  });
}

test("cards of several players on one phone: each says whose it is, and waits for that player", async () => {
  const page = await open("player", PHONE);
  const mine = await me(page);
  const before = (await api(page, "GET", `/events/${league.event}/rounds?limit=200`)).body.items.length;
  await page.goto(`/events/${league.event}`);
  await page.getByText("Hand in for another player").click();
  const others = await page.$$eval("#for_member option", (all) => all.slice(0, 2).map((option) => [option.value, option.textContent]));
  const gone = await unreachable(page);
  for (const [value] of others) {
    await page.goto(`/events/${league.event}`);
    await page.getByText("Hand in for another player").click();
    await page.locator("#for_member").selectOption(value);
    await page.getByRole("button", { name: "Open the card" }).click();
    await page.getByText("it counts once it is accepted").waitFor();
    await tapCard(page);
    await handIn(page);
    await page.locator("#send-state").getByText("no network yet").waitFor();
  }
  await page.goto(`/events/${league.event}/hand-in`);
  await page.getByText("Other cards on this device:").waitFor();
  for (const [, name] of others) assert.ok(await page.locator("#others").getByRole("link", { name }).isVisible(), name);
  await page.getByRole("button", { name: "4 strokes" }).tap();
  await page.getByText("On this device only").waitFor();
  await bar(page).getByText("2 cards wait").waitFor();
  const words = await bar(page).innerText();
  for (const [, name] of others) assert.ok(words.includes(name), `${name}: ${words}`);
  assert.equal((await keptCards(page)).length, 3);
  await shot(page, "several");
  await gone.back();
  await page.goto("/leagues");
  await bar(page).getByText(/card was handed in\. It waits for/).waitFor();
  await until(page, () => new Promise((done) => {
    indexedDB.open("cards").onsuccess = ({ target: { result } }) => {
      result.transaction("cards").objectStore("cards").count().onsuccess = ({ target }) => { result.close(); done(target.result === 1); };
    };
  }));
  const now = (await api(page, "GET", `/events/${league.event}/rounds?limit=200`)).body.items;
  assert.equal(now.length, before + 2, "each was handed in once");
  for (const [value] of others) assert.equal(now.find((round) => round.member_id === value)?.state, "proposed");
  assert.ok(!now.some((round) => round.member_id === mine && round.state !== "withdrawn"), "the unfinished one was not sent");
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("an invitation is a whole link that can be copied", async () => {
  const page = await open("organizer", DESKTOP);
  await page.context().grantPermissions(["clipboard-read", "clipboard-write"]);
  await toMore(page);
  await page.getByRole("link", { name: "Organize" }).click();
  await page.getByRole("button", { name: "Create invitation" }).click();
  const link = await page.getByLabel("Link to send").inputValue();
  const url = new URL(link);
  assert.equal(url.origin, league.base);
  assert.equal(url.pathname, "/join");
  assert.ok(url.hash.length > 20, link);
  await page.getByRole("button", { name: "Copy the link" }).click();
  await page.getByText("Copied.").waitFor();
  assert.equal(await page.evaluate(() => navigator.clipboard.readText()), link);
  await shot(page, "invitation");
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("erasing asks and takes the name, without script too", async () => {
  for (const options of [{ ...PHONE, javaScriptEnabled: false }, DESKTOP]) {
    const page = await open("organizer", options);
    await toMore(page);
    await page.getByRole("link", { name: "Players" }).click();
    await page.locator("tbody tr:not(.mine) a").first().click();
    await page.getByRole("link", { name: /^Data of/ }).click();
    const name = (await page.getByRole("heading", { level: 1 }).textContent()).replace("Data of ", "");
    await page.getByRole("button", { name: `Erase ${name}` }).click();
    await page.getByRole("heading", { name: `Erase ${name} from` }).waitFor();
    await shot(page, `erase-${options.viewport.width}`);
    await page.getByLabel("Type the name to confirm").fill("Somebody Else");
    await page.getByRole("button", { name: `Erase ${name} for good` }).click();
    await page.getByText("does not match the name of this player").waitFor();
    await page.getByRole("link", { name: "Cancel" }).click();
    await page.getByRole("button", { name: `Erase ${name}` }).click();
    await page.getByLabel("Type the name to confirm").fill(name);
    await page.getByRole("button", { name: `Erase ${name} for good` }).click();
    await page.waitForURL(/\/leagues\//);
    await toMore(page);
    await page.getByRole("link", { name: "Players" }).click();
    assert.equal(await page.getByRole("link", { name, exact: true }).count(), 0);
    await page.context().close();
  }
});

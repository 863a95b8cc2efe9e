// Without a network, by clicking alone: what opens, what is said, what goes out when the network is back; and that
// nothing is left on the device for anybody else.
import { after, before, beforeEach, test } from "node:test";
import assert from "node:assert/strict";
import { SMALL, api, browser, demo, faultsInBothSchemes, handIn, me, signIn, signedIn, tapCard, toMore, until } from "./server.mjs";

const PHONE = { viewport: { width: 390, height: 664 }, hasTouch: true, isMobile: true };
let league, chromium;
before(async () => { chromium = await browser(); });
after(async () => { await chromium?.close(); league?.stop(); });
beforeEach(async () => { league?.stop(); league = await demo(...SMALL); });

const bar = (page) => page.locator("#waiting");
const shot = (page, name) => process.env.SHOTS && page.screenshot({ path: `${process.env.SHOTS}/${name}.png` });

/** Answers the addresses of the pages that this device keeps. */
const keptPages = (page) => page.evaluate(async () => {
  if (!(await caches.has("pages"))) return [];
  const all = await (await caches.open("pages")).keys();
  return all.map(({ url }) => url.replace(location.origin, "")).filter((path) => path !== "/kept-for").sort();
});

/** Opens Tonight by way of the first page, and waits until it and the card are kept. */
async function tonight(page) {
  await page.goto("/");
  await page.getByRole("link", { name: /my card$/ }).waitFor();
  await until(page, async () => {
    const all = (await caches.has("pages")) ? await (await caches.open("pages")).keys() : [];
    // A page that was asked for while the worker began is not its own yet; the next one is.
    const worker = (await navigator.serviceWorker.getRegistration())?.active?.state;
    return worker === "activated" && ["?kept=1", "/hand-in"].every((end) => all.some(({ url }) => url.endsWith(end)));
  });
  return new URL(page.url()).pathname;
}

const cardsOf = async (page, member) => {
  const all = await api(page, "GET", `/events/${league.event}/rounds?limit=200`);
  return all.body.items.filter((round) => round.member_id === member);
};

const MOMENTS = {
  "before it is sent": async (context) => context.setOffline(true),
  "while it is sent": async (context) => context.route("**/hand-in", (route) => {
    if (route.request().method() !== "POST") return route.continue();
    return context.setOffline(true).then(() => route.abort());
  }),
  "after the answer was lost": async (context) => context.route("**/hand-in", async (route) => {
    if (route.request().method() !== "POST") return route.continue();
    await route.fetch({ maxRedirects: 0 });
    await context.setOffline(true);
    return route.abort();
  }),
};
for (const [moment, lose] of Object.entries(MOMENTS)) {
  test(`the network goes ${moment}: the card is handed in once, from another page`, async () => {
    const page = await signedIn(chromium, league, "player", PHONE);
    const context = page.context(), mine = await me(page);
    await tonight(page);
    // The card opens from what is kept, though it was never seen.
    if (moment.startsWith("before")) await lose(context);
    await page.getByRole("link", { name: "Hand in my card" }).click();
    await page.getByRole("heading", { name: "Hole 1", exact: true }).waitFor();
    await tapCard(page);
    if (!moment.startsWith("before")) await lose(context);
    await handIn(page);
    await bar(page).getByText("1 card waits: no network yet").waitFor();
    await page.locator("#send-state").getByText("Kept on this device").waitFor();
    // Away from the card, by the name of the league at the head of the page.
    await page.locator(".top .name").click();
    await page.getByText("No network. This page is kept on this device").waitFor();
    await bar(page).getByText("1 card waits: no network yet").waitFor();
    await shot(page, `offline-${moment.split(" ")[0]}`);
    await context.unroute("**/hand-in");
    await context.setOffline(false);
    await page.evaluate(() => dispatchEvent(new Event("online")));
    await bar(page).getByText("Your card was handed in.").waitFor();
    await bar(page).getByRole("link", { name: "See the card" }).click();
    await page.waitForURL(/\/rounds\//);
    assert.equal((await cardsOf(page, mine)).length, 1, "handed in once");
    assert.deepEqual(page.faults, []);
    await context.close();
  });
}

test("Tonight is kept without notices, and says that it is old", async () => {
  const page = await signedIn(chromium, league, "player", { ...PHONE, bypassCSP: true });
  const path = await tonight(page);
  assert.ok(await page.getByRole("link", { name: /^Notices/ }).isVisible());
  assert.deepEqual(await keptPages(page), [`/events/${league.event}/hand-in`, `${path}?kept=1`]);
  await page.context().setOffline(true);
  for (const address of ["/", path]) {
    await page.goto(address);
    await page.getByText("No network. This page is kept on this device and is from").waitFor();
    assert.equal(await page.getByRole("link", { name: /^Notices/ }).count(), 0);
    assert.ok(await page.getByRole("table", { name: "Top of the table" }).isVisible());
  }
  // The checker needs no network; what the page is dressed with is kept, too.
  assert.equal(await page.evaluate(() => getComputedStyle(document.body).margin), "0px");
  assert.deepEqual(await faultsInBothSchemes(page), []);
  await page.context().close();
});

test("kept pages are gone at sign-out, when the session has ended, for another account, and after seven days", async () => {
  const page = await signedIn(chromium, league, "player", PHONE);
  // Signing out.
  await tonight(page);
  await toMore(page);
  await page.getByRole("button", { name: "Sign out" }).click();
  await page.waitForURL(/\/sign-in/);
  assert.deepEqual(await keptPages(page), [], "after signing out");
  // A session that has ended.
  await signIn(page, league.base, league.player);
  await tonight(page);
  await page.context().clearCookies();
  await page.goto("/notices");
  await page.waitForURL(/\/sign-in/);
  await until(page, async () => !(await caches.has("pages")));
  // Another account whose session came without a sign-in that the worker saw.
  await signIn(page, league.base, league.player);
  await tonight(page);
  const other = await signedIn(chromium, league, "organizer", PHONE);
  await page.context().clearCookies();
  await page.context().addCookies(await other.context().cookies());
  await page.goto("/notices");
  await until(page, async (event) => !(await caches.match(`/events/${event}/hand-in`)), league.event);
  assert.deepEqual(await keptPages(page), [], "for another account");
  await other.context().close();
  // Seven days: the kept page is told to be older than it is.
  await page.goto("/sign-in");
  await signIn(page, league.base, league.player);
  const path = await tonight(page);
  await page.evaluate(async (address) => {
    const pages = await caches.open("pages"), page = await pages.match(address);
    const headers = new Headers(page.headers);
    headers.set("date", new Date(Date.now() - 7 * 86_400_000 - 1000).toUTCString());
    await pages.put(address, new Response(await page.text(), { headers }));
  }, `${path}?kept=1`);
  await page.context().setOffline(true);
  await page.goto(path).catch(() => {});
  assert.notEqual(await page.locator("main h1").count(), 1, "it is not shown any more");
  await page.context().close();
});

test("two accounts on one phone: neither sees, sends nor loses the other's card", async () => {
  const page = await signedIn(chromium, league, "player", PHONE);
  const context = page.context(), players = await me(page);
  await tonight(page);
  await page.getByRole("link", { name: "Hand in my card" }).click();
  await tapCard(page);
  await context.setOffline(true);
  await handIn(page);
  await bar(page).getByText("1 card waits").waitFor();
  // The session ends, and somebody else signs in at the same phone.
  await context.clearCookies();
  await page.close();
  await context.setOffline(false);
  const second = await context.newPage();
  await signIn(second, league.base, league.organizer);
  await tonight(second);
  const organizers = await me(second);
  await second.evaluate(() => { dispatchEvent(new Event("online")); document.dispatchEvent(new Event("visibilitychange")); });
  await second.waitForTimeout(500);
  assert.ok(await bar(second).isHidden(), "nothing of it is shown");
  await second.getByRole("link", { name: "Change my card" }).click();
  await second.getByText("As handed in").waitFor();
  await second.getByRole("button", { name: /strokes, \+1$/ }).click();
  await second.getByRole("button", { name: "Save the change" }).click();
  await second.waitForURL(/\/rounds\//);
  assert.equal((await cardsOf(second, players)).length, 0, "the player's card was not sent");
  await toMore(second);
  await second.getByRole("button", { name: "Sign out" }).click();
  await second.waitForURL(/\/sign-in/);
  await signIn(second, league.base, league.player);
  await bar(second).getByText("Your card was handed in.").waitFor();
  const [[own], [others]] = [await cardsOf(second, players), await cardsOf(second, organizers)];
  assert.ok(own && others && own.id !== others.id);
  await context.close();
});

test("a new set of assets leaves the one before it, and no more", async () => {
  const page = await signedIn(chromium, league, "player", PHONE);
  await tonight(page);
  const sets = () => page.evaluate(async () => (await caches.keys()).filter((name) => name.startsWith("assets ")));
  const [now] = await sets();
  // As two earlier versions of the program would have left them; the worker then starts anew.
  await page.evaluate(async (now) => {
    await caches.delete(now);
    for (const name of ["assets first", "assets second"]) await caches.open(name);
    const held = await navigator.serviceWorker.getRegistration();
    await held.unregister();
  }, now);
  await tonight(page);
  await until(page, async () => !(await caches.has("assets first")));
  assert.deepEqual((await sets()).sort(), [now, "assets second"].sort());
  await page.context().close();
});

test("a server that lets devices keep no pages removes what they keep, and the worker", async () => {
  const page = await signedIn(chromium, league, "player", PHONE);
  await tonight(page);
  const { port } = new URL(league.base);
  league.stop();
  await new Promise((done) => { setTimeout(done, 500); });
  league = await demo(...SMALL, "--listen", `127.0.0.1:${port}`, "--no-kept-pages");
  await signIn(page, league.base, league.player);
  await until(page, async () => {
    const held = await navigator.serviceWorker.getRegistrations();
    return held.length === 0 && !(await caches.keys()).some((name) => name.startsWith("assets "));
  });
  await page.goto("/");
  await page.context().setOffline(true);
  await assert.rejects(page.goto("/"), /ERR_INTERNET_DISCONNECTED/);
  await page.context().close();
});

test("a phone can put the league on its first screen", async () => {
  const page = await signedIn(chromium, league, "player", PHONE);
  await page.goto("/");
  const manifest = await page.evaluate(async () => (await fetch(document.querySelector('link[rel="manifest"]').href)).json());
  assert.deepEqual(manifest.icons.map(({ sizes, purpose }) => `${sizes} ${purpose}`), ["192x192 any", "512x512 any", "512x512 maskable"]);
  for (const { src, sizes } of manifest.icons) {
    const [width, kind] = await page.evaluate(async (src) => {
      const image = new Image();
      image.src = src;
      await image.decode();
      return [image.naturalWidth, (await fetch(src)).headers.get("cache-control")];
    }, src);
    assert.equal(`${width}x${width}`, sizes);
    assert.match(kind, /immutable/);
  }
  await page.context().close();
});

// How an event ends, by forms alone: made final, deleted, and a slip mended after that; each question at every width.
import { after, before, test } from "node:test";
import assert from "node:assert/strict";
import { api, browser, demo, faultsAtAllSizes, signIn } from "./server.mjs";

let league, chromium;
before(async () => { [league, chromium] = await Promise.all([demo(), browser()]); });
after(async () => { await chromium?.close(); league?.stop(); });

async function open(options) {
  const page = await (await chromium.newContext({ baseURL: league.base, bypassCSP: true, ...options })).newPage();
  await signIn(page, league.base, league.organizer);
  return page;
}

/** Does something on a page, and looks at what it leads to at each width, light and dark. */
async function everywhere(path, when, act) {
  const page = await open();
  await page.goto(path);
  await act(page);
  assert.deepEqual(await faultsAtAllSizes(page, [320, 390, 1280]), [], when);
  await page.context().close();
}

test("an event is made final, a slip is mended after that, and another event is deleted", async () => {
  const desk = await open();
  const events = (await api(desk, "GET", `/seasons/${league.season}/events?limit=200`)).body.items;
  const { tee_id, stimp_ft, opens_at, closes_at } = events.filter(({ state, holes }) => state === "final" && holes === 18).at(-1);
  const lay = async (name) => {
    const event = { name, tee_id, stimp_ft, opens_at, closes_at, holes: 18, first_hole: 1, playing_conditions: 0 };
    const made = await api(desk, "POST", `/seasons/${league.season}/events`, event);
    assert.equal(made.status, 201, JSON.stringify(made.body));
    return made.body.id;
  };
  const home = (await api(desk, "GET", "/me")).body.memberships[0].league_id;
  const member = (await api(desk, "POST", `/leagues/${home}/members`, { display_name: "Nell Farrow", starting_handicap: 18.0 })).body.id;
  const [played, empty] = [await lay("Played night"), await lay("Empty night")];
  const setFinal = (name) => async (page) => {
    await page.getByLabel(`Status of ${name}`, { exact: true }).selectOption("final");
    await page.getByRole("button", { name: `Apply the status of ${name}` }).click();
  };

  await everywhere(`/leagues/${home}/organize`, "no card", async (page) => {
    await setFinal("Played night")(page);
    await page.getByText("no card of this event counts").waitFor();
    assert.equal(await page.getByRole("button", { name: "Make it final" }).count(), 0);
  });
  const card = { ...league.round, client_round_id: crypto.randomUUID(), member_id: member, setup_id: null, played_on: opens_at.slice(0, 10) };
  const handed = await api(desk, "POST", `/events/${played}/rounds`, card);
  assert.equal(handed.status, 201, JSON.stringify(handed.body));
  await everywhere(`/leagues/${home}/organize`, "final", async (page) => {
    await setFinal("Played night")(page);
    await page.getByRole("heading", { name: "Make Played night final?" }).waitFor();
  });
  await everywhere(`/events/${empty}`, "deletion", async (page) => {
    await page.getByRole("button", { name: "Delete this event" }).click();
    await page.getByRole("heading", { name: "Delete Empty night?" }).waitFor();
  });

  // On a phone that runs no script.
  const phone = await open({ viewport: { width: 390, height: 844 }, javaScriptEnabled: false });
  await phone.goto(`/leagues/${home}/organize`);
  await setFinal("Played night")(phone);
  await phone.getByRole("button", { name: "Make it final" }).click();
  await phone.getByText("State: final").waitFor();
  await phone.goto(`/events/${empty}`);
  await phone.getByRole("button", { name: "Delete this event" }).click();
  await phone.getByRole("button", { name: "Delete this event" }).click();
  await phone.waitForURL(`**/seasons/${league.season}`);
  assert.equal((await api(desk, "GET", `/events/${empty}`)).status, 404);

  await everywhere(`/rounds/${handed.body.id}/ruling`, "ruling", async (page) => {
    await page.getByLabel("Correct the card as below").check();
    await page.getByLabel("Strokes on hole 3").fill("9");
    await page.getByLabel("Reason (the player reads it)").fill("a nine on hole 3");
    await page.getByRole("button", { name: "Show the effect" }).click();
    await page.getByText("Holes that would change").waitFor();
  });
  assert.equal((await api(desk, "GET", `/rounds/${handed.body.id}`)).body.version, 1, "a look changes nothing");
  await Promise.all([desk.context().close(), phone.context().close()]);
});

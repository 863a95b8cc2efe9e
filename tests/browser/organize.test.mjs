// An organizer's slips mended by forms alone, on a phone that runs no script; and the forms at every width.
import { after, before, test } from "node:test";
import assert from "node:assert/strict";
import { api, browser, demo, faultsAtAllSizes, signedIn } from "./server.mjs";

let league, chromium;
before(async () => { [league, chromium] = await Promise.all([demo(), browser()]); });
after(async () => { await chromium?.close(); league?.stop(); });

test("what was typed wrongly is changed, a night is copied, and a trial season goes", async () => {
  const desk = await signedIn(chromium, league, "organizer", { bypassCSP: true });
  const home = (await api(desk, "GET", "/me")).body.memberships[0].league_id;
  const read = async (path) => (await api(desk, "GET", path)).body;
  const [course] = (await read(`/leagues/${home}/courses`)).items;
  const events = (await read(`/seasons/${league.season}/events?limit=200`)).items;
  const last = events.at(-1);

  const phone = await signedIn(chromium, league, "organizer", { viewport: { width: 390, height: 844 }, javaScriptEnabled: false });
  await phone.goto(`/leagues/${home}/organize`);
  await phone.getByRole("link", { name: course.name, exact: true }).click();
  await phone.getByRole("link", { name: "Edit this tee" }).first().click();
  await phone.getByLabel("Slope rating (55 to 155)").fill("12");
  await phone.getByRole("button", { name: "Save" }).click();
  assert.match(await phone.locator(".faults").textContent(), /Slope rating/);
  await phone.getByLabel("Slope rating (55 to 155)").fill("121");
  await phone.getByRole("button", { name: "Save" }).click();
  await phone.waitForURL(`**/courses/${course.id}`);
  assert.equal((await read(`/courses/${course.id}`)).tees[0].slope_rating, 121);

  await phone.goto(`/events/${last.id}`);
  await phone.getByRole("link", { name: "Edit this event" }).click();
  await phone.getByLabel("Name of the event").fill("Captain’s night");
  await phone.getByRole("button", { name: "Save" }).click();
  await phone.getByRole("heading", { name: "Captain’s night" }).waitFor();

  await phone.goto(`/seasons/${league.season}`);
  await phone.getByRole("link", { name: "Copy it", exact: true }).click();
  await phone.getByRole("button", { name: "Show the dates" }).click();
  await phone.getByRole("button", { name: "Add this season" }).click();
  await phone.waitForURL(/\/seasons\/(?!.*copies)/);
  const copy = phone.url().split("/").at(-1);
  assert.notEqual(copy, league.season);
  assert.equal((await read(`/seasons/${copy}/events?limit=200`)).items.length, events.length);
  await phone.getByRole("link", { name: "Edit this season" }).click();
  await phone.getByRole("button", { name: "Delete this season…" }).click();
  await phone.getByRole("button", { name: "Delete this season" }).click();
  await phone.waitForURL(`**/leagues/${home}/organize`);
  assert.equal((await api(desk, "GET", `/seasons/${copy}`)).status, 404);

  const [member] = (await read(`/leagues/${home}/members`)).items;
  const [setup] = (await read(`/leagues/${home}/setups`)).items;
  const forms = [`/courses/${course.id}`, `/courses/${course.id}/tee`, `/leagues/${home}/setups`, `/setups/${setup.id}/edit`,
    `/members/${member.id}/edit`, `/seasons/${league.season}/edit`, `/seasons/${league.season}/copies`, `/events/${last.id}/edit`];
  for (const path of forms) {
    await desk.goto(path);
    assert.deepEqual(await faultsAtAllSizes(desk, [320, 390, 1280]), [], path);
  }
  await Promise.all([desk.context().close(), phone.context().close()]);
});

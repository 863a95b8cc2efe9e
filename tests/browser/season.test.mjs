// A season from sign-up to final standings, by clicking alone; and a finding, by both sides.
import { after, before, test } from "node:test";
import assert from "node:assert/strict";
import { browser, demo, handIn, holds, signIn, tapCard, toMore } from "./server.mjs";

let league, chromium;
before(async () => { [league, chromium] = await Promise.all([demo(), browser()]); });
after(async () => { await chromium?.close(); league?.stop(); });

const DESKTOP = { viewport: { width: 1280, height: 800 } };
async function open(options = DESKTOP) {
  const context = await chromium.newContext({ baseURL: league.base, ...options });
  return context.newPage();
}

async function register(page, name, code) {
  await page.getByLabel("Your name").fill(name);
  await page.getByLabel("E-mail").fill(`${name.split(" ")[0].toLowerCase()}.${Date.now()}@example.org`);
  await page.getByLabel("Password").fill("seven quiet herons on a wall");
  if (code) await holds(page.getByLabel("Invitation code"), code);
  await page.getByRole("button", { name: "Create account" }).click();
}

test("an organizer sets a league up and a player plays its season", async () => {
  const organizer = await open();
  await organizer.goto("/register");
  await register(organizer, "Wilma Tarn");
  await organizer.goto("/leagues/new");
  await organizer.getByLabel("Name of the league").fill("Heron Wall Winter League");
  await organizer.getByLabel("Time zone").fill("Europe/Nowhere");
  await organizer.getByRole("button", { name: "Create league" }).click();
  await holds(organizer.getByLabel("Name of the league"), "Heron Wall Winter League");
  assert.equal(await organizer.getByLabel("Time zone").getAttribute("aria-invalid"), "true");
  await organizer.getByLabel("Time zone").fill("Europe/Lisbon");
  await organizer.getByRole("button", { name: "Create league" }).click();
  const desk = organizer.url();

  await organizer.getByRole("link", { name: "Add a course" }).click();
  await organizer.getByLabel("Name of the course").fill("Mudlark Links");
  await organizer.getByLabel("Name of the tee").fill("Blue");
  await organizer.getByLabel("Course rating (20 to 90)").fill("71,4");
  await organizer.getByLabel("Pars").fill("4 4 3 5 4 4 3 4 5 5 4 3 4 4 3 4 5 4");
  await organizer.getByLabel("Stroke index").fill("1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 17");
  await organizer.getByRole("button", { name: "Save" }).click();
  assert.ok((await organizer.locator(".faults").textContent()).length > 30, "a repeated stroke index is refused");
  await organizer.getByLabel("Stroke index").fill("1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18");
  await organizer.getByRole("button", { name: "Save" }).click();
  await organizer.waitForURL(desk);

  await organizer.getByRole("link", { name: "Create a season" }).click();
  await organizer.getByLabel("Name of the season").fill("Short winter");
  await organizer.getByLabel("First day").fill("2026-11-01");
  await organizer.getByLabel("Last day").fill("2027-03-01");
  await organizer.getByRole("button", { name: "Save" }).click();
  await organizer.waitForURL(desk);
  await organizer.getByRole("link", { name: "Add an event" }).click();
  await organizer.getByLabel("Name of the event").fill("First night");
  await organizer.getByLabel("Opening time").fill("2026-11-10T18:00");
  await organizer.getByLabel("Closing time").fill("2026-11-10T23:00");
  await organizer.getByRole("button", { name: "Save" }).click();
  await organizer.waitForURL(/\/events\//);
  const event = organizer.url();

  await organizer.goto(desk);
  await organizer.getByRole("link", { name: "Add players from a list" }).click();
  await organizer.getByLabel("Players").fill("display_name,flight,starting_handicap\nNed Fennimore,,12.4\nNed Fennimore,,\n");
  await organizer.getByRole("button", { name: "Check the list" }).click();
  assert.match(await organizer.locator(".faults").textContent(), /Line 3/);
  await organizer.getByLabel("Players").fill("display_name,flight,starting_handicap\nNed Fennimore,,12.4\n");
  await organizer.getByRole("button", { name: "Check the list" }).click();
  await organizer.getByRole("button", { name: "Add them" }).click();
  await organizer.getByRole("link", { name: "Ned Fennimore" }).waitFor();

  await organizer.goto(desk);
  await organizer.getByLabel("Status of First night", { exact: true }).selectOption("open");
  await organizer.getByRole("button", { name: "Apply the status of First night" }).click();
  await organizer.goto(desk);
  await organizer.getByRole("button", { name: "Create invitation" }).click();
  const code = await organizer.locator("code").first().textContent();

  const player = await open();
  await player.goto(`/join#${code}`);
  await player.waitForFunction(() => document.getElementById("code").value.length > 20);
  await player.getByRole("button", { name: "I am new here" }).click();
  await register(player, "Sorrel Quay", code);
  await player.waitForURL(/\/leagues\//);
  await player.getByRole("link", { name: "Hand in my card" }).click();
  await tapCard(player);
  await handIn(player);
  // The event was set for days that are over: it is asked whether today is right.
  await player.getByLabel("The date is right").check();
  await handIn(player);
  await player.getByText("Saved at").waitFor();
  const card = player.url();

  await organizer.goto(event);
  await organizer.getByRole("link", { name: "Sorrel Quay" }).click();
  await organizer.getByRole("button", { name: "Confirm: I witnessed" }).click();
  await organizer.getByRole("button", { name: "Yes, I witnessed this round" }).click();
  await organizer.getByText("witnessed").waitFor();
  await organizer.goto(desk);
  await organizer.getByLabel("Status of First night", { exact: true }).selectOption("final");
  await organizer.getByRole("button", { name: "Apply the status of First night" }).click();
  await organizer.getByText("1 card counts, 1 witnessed.").waitFor();
  await organizer.getByRole("button", { name: "Make it final" }).click();
  await organizer.waitForURL(event);
  await player.goto(card);
  assert.equal(await player.getByRole("link", { name: "Change my card" }).count(), 0, "what is final stands");
  await player.goto("/");
  await player.getByRole("link", { name: "Table", exact: true }).click();
  const row = player.getByRole("row", { name: /Sorrel Quay/ });
  assert.match(await row.textContent(), /12/, "the points for first place");
  await organizer.goto(desk);
  await organizer.getByRole("link", { name: "Audit log" }).click();
  await organizer.getByText("attest").first().waitFor();
  await Promise.all([organizer.context().close(), player.context().close()]);
});

test("an organizer sees the effect of a ruling first, and hears those concerned", async () => {
  const organizer = await open();
  await signIn(organizer, league.base, league.organizer);
  await toMore(organizer);
  await organizer.getByRole("link", { name: "Findings" }).click();
  await organizer.locator('main a[href^="/findings/"]').first().click();
  const finding = organizer.url();
  assert.match(await organizer.locator("main").textContent(), /never a verdict/);
  await organizer.getByLabel("cannot say").check();
  await organizer.getByLabel("Reason, in a sentence").fill("Not before the player has spoken.");
  await organizer.getByRole("button", { name: "Save my opinion and reveal names" }).click();
  await organizer.getByLabel("Dismiss").check();
  await organizer.getByLabel("Reason").fill("Looked at on the bay.");
  await organizer.getByRole("button", { name: "Show the effect" }).click();
  assert.match(await organizer.locator(".faults").textContent(), /have time to reply first/, "no ruling before an answer");
  await holds(organizer.getByLabel("Reason"), "Looked at on the bay.");
  const player = await open();
  await signIn(player, league.base, league.player);
  const answer = await player.goto(finding);
  assert.equal(answer.status(), 404, "others learn of no finding");
  await player.getByText("This was not found, or you have no access to it").waitFor();
  await Promise.all([organizer.context().close(), player.context().close()]);
});

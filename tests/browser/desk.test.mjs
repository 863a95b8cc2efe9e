// A finding from open to its end, by both sides, by forms alone: on a phone and at a desk.
import { after, before, test } from "node:test";
import assert from "node:assert/strict";
import { api, browser, demo, holds, signIn, sound, toMore } from "./server.mjs";

const PASSWORD = "seven quiet herons on a wall";

let league, chromium;
before(async () => { [league, chromium] = await Promise.all([demo(), browser()]); });
after(async () => { await chromium?.close(); league?.stop(); });

/** Opens a browser; what its console complains of fails the test. */
async function open(options) {
  const page = await (await chromium.newContext({ baseURL: league.base, bypassCSP: true, ...options })).newPage();
  page.errors = [];
  page.on("pageerror", (error) => page.errors.push(`${page.url()}: ${error}`));
  return page;
}

/** Registers somebody who takes an invitation up. */
async function newcomer(page, name, code) {
  await page.goto(`/join#${code}`);
  await page.waitForFunction(() => document.getElementById("code").value.length > 20);
  await page.getByRole("button", { name: "I am new here" }).click();
  await page.getByLabel("Your name").fill(name);
  await page.getByLabel("E-mail").fill(`${name.toLowerCase()}.${Date.now()}@example.org`);
  await page.getByLabel("Password").fill(PASSWORD);
  await page.getByRole("button", { name: "Create account" }).click();
  await page.waitForURL(/\/leagues\//);
}

/** Hands in cards of a new member whose short putts run at an eighth of their line; answers the finding about that. */
async function newFinding(organizer, id, name) {
  const member = (await api(organizer, "POST", `/leagues/${id}/members`, { display_name: name, starting_handicap: 18.0 })).body.id;
  const events = (await api(organizer, "GET", `/seasons/${league.season}/events?limit=200`)).body.items;
  const { tee_id, stimp_ft, opens_at, closes_at } = events.find((event) => event.id === league.event);
  for (let turn = 0; turn < 6; turn++) {
    const event = { name: `${name}, ${turn + 1}`, tee_id, stimp_ft, opens_at, closes_at, holes: 18, first_hole: 1, playing_conditions: 0 };
    const made = await api(organizer, "POST", `/seasons/${league.season}/events`, event);
    assert.equal(made.status, 201, JSON.stringify(made.body));
    const holes = Array.from({ length: 18 }, (_, n) => {
      const distance_ft = 4 + 2 * n, start_line_deg = [0.9, -1.4, 0.6, -0.8, 1.7, -2.1, 1.1][(n + turn) % 7];
      const played_line_deg = distance_ft > 20 ? start_line_deg : Math.round(1.25 * start_line_deg) / 10;
      const putts = [{ distance_ft, start_line_deg, played_line_deg, result: "missed" }, { distance_ft: 1.5, result: "holed" }];
      return { number: n + 1, strokes: 5 + (n + turn) % 2, putts };
    });
    const round = { client_round_id: crypto.randomUUID(), member_id: member, setup_id: null,
      played_on: opens_at.slice(0, 10), outcome: "complete", holes };
    const handed = await api(organizer, "POST", `/events/${made.body.id}/rounds`, round);
    assert.equal(handed.status, 201, JSON.stringify(handed.body));
  }
  const all = (await api(organizer, "GET", `/leagues/${id}/findings?limit=200`)).body.items;
  return all.find((found) => found.kind === "softened_line" && found.subject.member_id === member);
}

const devices = {
  phone: { viewport: { width: 390, height: 844 }, colorScheme: "dark" },
  desk: { viewport: { width: 1280, height: 800 }, colorScheme: "light" },
};
for (const [place, [device, options]] of Object.entries(devices).entries()) {
  test(`a finding goes to its end on a ${device}`, async () => {
    const organizer = await open(options);
    await signIn(organizer, league.base, league.organizer);
    await toMore(organizer);
    const home = new URL(await organizer.getByRole("link", { name: "Findings" }).getAttribute("href"), league.base);
    const id = home.pathname.split("/")[2];
    const name = ["Wiebke Ostrand", "Viktor Halemba"][place];
    const finding = await newFinding(organizer, id, name);
    assert.ok(finding, "six softened cards are a finding");
    const undone = `It was not (${device}).`;
    const why = `The mat was "new" (${device}).`;
    const member = finding.subject.member_id;
    const claim = await api(organizer, "POST", `/leagues/${id}/invitations`, { role: "player", member_id: member });
    const player = await open(options);
    await newcomer(player, "Holder", claim.body.code);
    await organizer.goto(`/leagues/${id}/organize`);
    await organizer.getByLabel("Invite a").selectOption("organizer");
    await organizer.getByRole("button", { name: "Create invitation" }).click();
    const second = await open(options);
    await newcomer(second, ["Second", "Third"][place], await organizer.locator("code").first().textContent());

    // The player reads the evidence and answers.
    await toMore(player);
    await player.getByRole("link", { name: "Findings" }).click();
    await player.locator(`a[href="/findings/${finding.id}"]`).click();
    await player.waitForURL(`**/findings/${finding.id}`);
    await sound(player, "the player's side");
    await player.getByLabel("Your answer").fill(`I am ${name}, and the mat was new.`);
    await player.getByRole("button", { name: "Send answer" }).click();
    await player.locator("blockquote", { hasText: "the mat was new" }).waitFor();

    // An organizer sees no name, steps aside; another notes a first opinion and sees it.
    await organizer.goto(`/findings/${finding.id}`);
    const main = organizer.locator("main");
    assert.match(await main.textContent(), /I am Player A, and the mat was new/);
    for (const part of [name, member, ...finding.rounds]) {
      assert.ok(!(await main.innerHTML()).includes(part), `${part} gives the name away`);
    }
    await sound(organizer, "without names");
    await organizer.getByRole("button", { name: "Step aside" }).click();
    await organizer.getByRole("heading", { name: "Step aside from this finding?" }).waitFor();
    await organizer.getByRole("button", { name: "Step aside" }).click();
    await organizer.getByText("You stepped aside").waitFor();
    await second.goto(`/findings/${finding.id}`);
    await second.getByLabel("an honest cause is likely").check();
    await second.getByLabel("Reason, in a sentence").fill("New mats run slow.");
    await second.getByRole("button", { name: "Save my opinion and reveal names" }).click();
    await second.getByText(`About ${name}.`).waitFor();
    await sound(second, "with names");
    const earlier = second.locator("blockquote", { hasText: "On another finding of" });
    assert.equal(await earlier.count(), 2 * place, "earlier rulings of the kind stand beside it");

    // What would settle it is asked for, through the page that asks for the password and goes on.
    await second.evaluate(({ at, password }) => {
      const form = Object.assign(document.createElement("form"), { method: "post", action: "/sign-in/afresh" });
      const fields = { afresh_to: `${at}/requests`, key: crypto.randomUUID(), form: "request",
        text: "Ten putts & a <film> on the mat.", afresh_password: password };
      for (const [name, value] of Object.entries(fields)) form.append(Object.assign(document.createElement("input"), { name, value }));
      document.body.append(form);
      form.submit();
    }, { at: `/findings/${finding.id}`, password: PASSWORD });
    await second.getByText("Asked for: Ten putts & a <film> on the mat.").waitFor();
    assert.equal(new URL(second.url()).pathname, `/findings/${finding.id}`);
    await player.reload();
    await player.getByText("Ten putts & a <film>").waitFor();

    // Refused with no round, shown, put off, and given: nothing typed is lost on the way.
    const boxes = second.locator('input[name="round_id"][type="checkbox"]');
    const reason = second.getByLabel("Reason", { exact: true });
    await second.getByLabel("Exclude the rounds from all results").check();
    for (const box of await boxes.all()) await box.uncheck();
    await reason.fill(why);
    await second.getByRole("button", { name: "Show the effect" }).click();
    await second.locator(".faults").waitFor();
    await sound(second, "a refused ruling");
    await holds(reason, why);
    assert.ok(await second.getByLabel("Exclude the rounds from all results").isChecked());
    assert.equal(await boxes.and(second.locator(":checked")).count(), 0);
    await boxes.first().check();
    await second.getByRole("button", { name: "Show the effect" }).click();
    await second.getByText("Effect of this ruling").waitFor();
    await second.getByText(/League indexes? (that )?would change/i).first().waitFor();
    await sound(second, "the effect of a ruling");
    await second.getByRole("button", { name: "Cancel" }).click();
    await holds(reason, why);
    assert.equal(await boxes.and(second.locator(":checked")).count(), 1);
    await second.getByRole("button", { name: "Show the effect" }).click();
    await second.getByRole("button", { name: "Confirm ruling" }).click();
    await second.locator("blockquote", { hasText: why }).waitFor();
    const ruled = (await api(second, "GET", `/findings/${finding.id}`)).body;
    assert.deepEqual([ruled.state, ruled.rulings.length, ruled.rulings[0].round_ids.length], ["ruled", 1, 1]);

    // Undone, with its effect first; the player reads both; the journal has them.
    await second.getByText("Undo: The rounds are excluded from all results").click();
    await second.getByLabel("Reason for undoing it").fill(undone);
    await second.getByRole("button", { name: "Show the effect of undoing" }).click();
    await second.getByRole("button", { name: "Confirm ruling" }).click();
    await second.locator("blockquote", { hasText: undone }).waitFor();
    assert.equal(await second.getByText("Undo:").count(), 0, "nothing is in effect any more");
    await player.reload();
    await player.locator("blockquote", { hasText: undone }).waitFor();
    await second.goto(`/leagues/${id}/journal`);
    let found = 0;
    for (;;) {
      found += await second.getByRole("row", { name: /rule finding/ }).count();
      const later = second.getByRole("link", { name: "Later entries" });
      if (!(await later.count())) break;
      await later.click();
    }
    assert.ok(found >= 2, `${found} rulings in the journal`);
    for (const page of [organizer, second, player]) {
      assert.deepEqual(page.errors, []);
      await page.context().close();
    }
  });
}

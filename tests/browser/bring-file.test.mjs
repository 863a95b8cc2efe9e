// A card from a file, and the numbers of a sensor: on a phone, on a desktop, with the keyboard alone, without script.
import { after, before, beforeEach, test } from "node:test";
import assert from "node:assert/strict";
import { SMALL, api, browser, demo, faultsInBothSchemes, handIn, holds, signedIn, tapCard } from "./server.mjs";

const PHONE = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true };
const DESKTOP = { viewport: { width: 1280, height: 800 } };
let league, chromium;
before(async () => { chromium = await browser(); });
after(async () => { await chromium?.close(); league?.stop(); });
beforeEach(async () => { league?.stop(); league = await demo(...SMALL); });

const player = (options) => signedIn(chromium, league, "player", options);

/** A file of the holes of the event, in metres with decimal commas: putts of 9.144 m and 0.6096 m on each hole. */
async function metric(page, bad = "") {
  const sheet = await page.evaluate(async (event) => (await fetch(`/api/v1/events/${event}/entry-sheet`)).json(), league.event);
  const rows = sheet.holes.flatMap(({ number, par }) => [`${number};${par};9,144;2,682;0,8`, `${number};${par};0,6096;;`]);
  return { sheet, text: ["Green;Shots;Away;Pace;Off", ...rows, ...(bad ? [bad] : [])].join("\r\n") };
}
const HOLDS = { Green: "hole number", Shots: "strokes on the hole", Away: "distance to the hole, m", Pace: "ball speed, m/s", Off: "start line, ° (left positive)" };

async function choose(page, text) {
  await page.goto(`/events/${league.event}/hand-in`);
  await page.getByRole("link", { name: "Import from a simulator file" }).click();
  await page.locator("#setup_id").selectOption({ index: 1 });
  await page.locator("#file").setInputFiles({ name: "night.csv", mimeType: "text/csv", buffer: Buffer.from(text) });
  await page.getByRole("button", { name: "Show the columns" }).click();
}

async function sayColumns(page) {
  for (const [column, holds] of Object.entries(HOLDS)) await page.getByLabel(`Meaning of ${column}`).selectOption({ label: holds });
  await page.getByRole("button", { name: "Check the rows" }).click();
}

/** On a phone the card is typed whole where somebody asks for that. */
const typeWhole = async (page) => {
  const button = page.getByRole("button", { name: "Type the whole card" });
  if (await button.isVisible()) await button.click();
};

const shot = (page, name) => process.env.SHOTS && page.screenshot({ path: `${process.env.SHOTS}/${name}.png`, fullPage: true });

for (const [size, options] of [["phone", PHONE], ["desktop", DESKTOP]]) {
  test(`a file fills the card in on a ${size}, and the next one needs no words`, async () => {
    const page = await player(options);
    const { sheet, text } = await metric(page);
    // What was typed before the file stays.
    await page.goto(`/events/${league.event}/hand-in`);
    await page.locator("#played_on").evaluate((field) => { field.closest("details").open = true; });
    await page.locator("#outcome").selectOption("no_return");
    await choose(page, text);
    await sayColumns(page);
    assert.match(await page.locator("main").textContent(), /30.*6.*0\.8° left/s);
    await page.getByRole("button", { name: "Fill in my card" }).click();
    await page.waitForURL(/\/hand-in$/);
    await holds(page.locator("#putts_1"), "30 2");
    await holds(page.locator("#sensor_1"), "6 0.8L");
    await holds(page.locator("#outcome"), "no_return");
    await typeWhole(page);
    await page.locator("#strokes_1").fill("7");
    await page.getByText("On this device only").waitFor();
    await page.reload();
    // What is kept on the device is read once the page stands.
    await page.waitForFunction(() => document.getElementById("putts_1").value).catch(() => {});
    await holds(page.locator("#putts_1"), "30 2", "a reload loses nothing");
    await holds(page.locator("#strokes_1"), "7", "nor what was typed over it");
    await page.locator("#outcome").evaluate((field) => { field.closest("details").open = true; });
    await page.locator("#outcome").selectOption("complete");
    await handIn(page);
    await page.waitForURL(/\/rounds\//);
    const round = await api(page, "GET", new URL(page.url()).pathname);
    const putt = { distance_ft: 30, ball_speed_mph: 6, start_line_deg: -0.8, result: "missed" };
    assert.deepEqual(round.body.holes[0].putts, [putt, { distance_ft: 2, result: "holed" }]);
    assert.equal(round.body.holes.length, sheet.holes.length);
    await choose(page, text);
    await page.getByText("Meaning of the columns, as you chose last time").waitFor();
    await page.getByRole("button", { name: "Fill in my card" }).click();
    await page.getByText("The file is filled in.").waitFor();
    assert.deepEqual(page.faults, []);
    await page.context().close();
  });

  test(`the pages of a file are for everybody on a ${size}, light and dark`, async () => {
    const page = await player({ ...options, bypassCSP: true });
    const { text } = await metric(page, "2;4;far;;\r\n2;4;near;fast;\r\n1;2;3;4;5;6;7");
    const found = [];
    const check = async (name) => {
      found.push(...(await faultsInBothSchemes(page)).map((fault) => `${name}: ${fault}`));
      await shot(page, `file-${name}-${size}`);
    };
    await page.goto(`/events/${league.event}/bring-file`);
    await check("pick");
    await page.getByRole("button", { name: "Show the columns" }).click();
    await page.getByText("The file was not read").waitFor();
    await check("refused");
    await choose(page, text);
    await check("columns");
    await sayColumns(page);
    await page.getByText("Rows that cannot be imported").waitFor();
    await check("rows");
    await page.getByRole("button", { name: "Import the good rows" }).click();
    await page.waitForURL(/\/hand-in$/);
    assert.equal(await page.evaluate(() => document.activeElement.id), "faults", "what is wrong is read first");
    await check("card");
    await page.locator("#faults a").first().click();
    if (size === "phone") await page.locator("#pad summary").click();
    await check("hole");
    assert.deepEqual(found, []);
    assert.deepEqual(page.faults, []);
    await page.context().close();
  });
}

test("a bad row holds the card back until it is put right", async () => {
  const page = await player(PHONE);
  const { text } = await metric(page, "1;4;far;;");
  await choose(page, text);
  await sayColumns(page);
  assert.match(await page.locator("main").textContent(), /“far” under Away is no distance/);
  await page.getByRole("button", { name: "Import the good rows" }).click();
  await page.waitForURL(/\/hand-in$/);
  assert.match(await page.locator("#fault_1").textContent(), /row \d+: “far”/);
  assert.match(await page.locator("#putts_1").inputValue(), /^30 2 \?$/);
  await handIn(page);
  await page.getByText("Not saved. Please correct:").waitFor();
  await page.locator("#faults a").first().click();
  await typeWhole(page);
  await page.locator("#putts_1").fill("30 2");
  await handIn(page);
  await page.waitForURL(/\/rounds\//);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("none of a file leaves the card as it was", async () => {
  const page = await player(PHONE);
  await page.goto(`/events/${league.event}/hand-in`);
  await page.getByRole("button", { name: "4 strokes" }).tap();
  await page.getByText("On this device only").waitFor();
  const { text } = await metric(page, "1;4;far;;");
  await choose(page, text);
  await sayColumns(page);
  await page.getByRole("link", { name: "Cancel" }).click();
  await page.waitForURL(/\/hand-in$/);
  await holds(page.locator("#strokes_1"), "4");
  await holds(page.locator("#putts_1"), "");
  await page.context().close();
});

test("the keyboard alone brings a file and fills the card in", async () => {
  const page = await player(DESKTOP);
  const { text } = await metric(page);
  await page.goto(`/events/${league.event}/bring-file`);
  const tabTo = async (isThere) => {
    for (let n = 0; n < 60; n++) {
      if (await page.evaluate(isThere)) return;
      await page.keyboard.press("Tab");
    }
    assert.fail(`the keyboard does not reach ${isThere}`);
  };
  await tabTo(() => document.activeElement.tagName === "SUMMARY");
  await page.keyboard.press("Enter");
  await tabTo(() => document.activeElement.id === "pasted");
  await page.keyboard.insertText(text);
  await tabTo(() => document.activeElement.textContent === "Show the columns");
  await page.keyboard.press("Enter");
  await page.getByText("Say what the columns mean").waitFor();
  for (const holds of Object.values(HOLDS)) {
    await page.keyboard.press("Tab");
    await tabTo(() => document.activeElement.name?.startsWith("column_"));
    await page.keyboard.type(holds);
  }
  await tabTo(() => document.activeElement.textContent === "Check the rows");
  await page.keyboard.press("Enter");
  await page.getByText("Preview").waitFor();
  await tabTo(() => document.activeElement.textContent === "Fill in my card");
  await page.keyboard.press("Enter");
  await page.waitForURL(/\/hand-in$/);
  await holds(page.locator("#putts_1"), "30 2");
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("a file is brought without script", async () => {
  const page = await player({ javaScriptEnabled: false });
  await page.goto(`/events/${league.event}/bring-file`);
  const rows = Array.from({ length: 18 }, (_, n) => `${n + 1},5,2`);
  await page.locator("#file").setInputFiles({ name: "n.csv", mimeType: "text/csv", buffer: Buffer.from(["hole,strokes,putt_count", ...rows].join("\n")) });
  await page.getByRole("button", { name: "Show the columns" }).click();
  const fill = page.getByRole("button", { name: /^Fill/ });
  await fill.click();
  await holds(page.locator("#putts_1"), "2 putts");
  await page.getByRole("button", { name: "Hand in" }).click();
  if (!/\/rounds\//.test(page.url())) {
    // An event of nine holes: rows of holes that it does not have are on no hole.
    assert.fail(await page.locator("#faults").textContent());
  }
  await page.context().close();
});

test("a sensor's numbers stand behind one tap, go with their putt, and survive a reload", async () => {
  const page = await player(PHONE);
  await page.goto(`/events/${league.event}/hand-in`);
  await page.getByRole("button", { name: "putt from 20 feet" }).tap();
  await page.getByRole("button", { name: "putt from 2 feet", exact: true }).tap();
  await page.getByText("Sensor numbers", { exact: true }).tap();
  await page.getByLabel("Ball speed, mph, putt 1").fill("6,1");
  await page.getByLabel("Start line, °, putt 1").fill("0.8");
  await page.getByLabel("Start line, °, which way, putt 1").selectOption("left");
  await page.getByLabel("Rise, in, putt 1").fill("4");
  await page.getByLabel("Rise, in, which way, putt 1").selectOption("down");
  await page.getByLabel("Ball speed, mph, putt 2").fill("2");
  await holds(page.locator("#sensor_1"), "6,1 0.8L - -4; 2");
  const small = await page.$$eval("#numbers input, #numbers select", (all) => all.filter((node) => node.offsetHeight < 44).length);
  assert.equal(small, 0, "every target is 44 px or larger");
  await page.getByText("On this device only").waitFor();
  await page.reload();
  await page.getByText("Sensor numbers", { exact: true }).tap();
  await holds(page.getByLabel("Start line, °, putt 1"), "0.8");
  await holds(page.getByLabel("Start line, °, which way, putt 1"), "left");
  await holds(page.getByLabel("Rise, in, which way, putt 1"), "down");
  await page.getByRole("button", { name: "Undo", exact: true }).tap();
  await holds(page.locator("#sensor_1"), "6,1 0.8L - -4");
  await page.getByRole("button", { name: "putt from 2 feet", exact: true }).tap();
  await page.getByLabel("Ball speed, mph, putt 2").press("Enter");
  assert.match(page.url(), /hand-in$/, "Enter in a number does not hand the card in");
  await shot(page, "sensor-phone");
  await page.locator("#pad").getByRole("button", { name: "5 strokes" }).click();
  await tapCard(page);
  await handIn(page);
  await page.waitForURL(/\/rounds\//);
  const round = await api(page, "GET", new URL(page.url()).pathname);
  const putt = { distance_ft: 20, elevation_in: -4, ball_speed_mph: 6.1, start_line_deg: -0.8, result: "missed" };
  assert.deepEqual(round.body.holes[0].putts[0], putt);
  await page.goto(`/events/${league.event}/hand-in`);
  await holds(page.locator("#sensor_1"), "6.1 0.8L - -4", "the stored numbers come back");
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

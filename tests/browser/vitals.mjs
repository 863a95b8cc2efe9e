// How soon pages are there, and taps are answered, on a slow phone: figures, not verdicts, since they hang on the machine.
// node tests/browser/vitals.mjs
import { browser, demo, signedIn, toMore } from "./server.mjs";

const PHONE = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true, serviceWorkers: "block" };
/** A phone four times slower than this machine, at 1.6 Mbit/s with 150 ms to the server. */
const SLOW = { cpu: 4, latency: 150, downloadThroughput: 1.6e6 / 8, uploadThroughput: 0.75e6 / 8 };
const RUNS = 5;

const [league, chromium] = await Promise.all([demo(), browser()]);

const open = (who) => signedIn(chromium, league, who, PHONE);

const median = (all) => all.toSorted((a, b) => a - b)[Math.floor(all.length / 2)];

async function slowDown(page) {
  const wire = await page.context().newCDPSession(page);
  await wire.send("Network.enable");
  await wire.send("Network.emulateNetworkConditions", { offline: false, ...SLOW });
  await wire.send("Emulation.setCPUThrottlingRate", { rate: SLOW.cpu });
  return wire;
}

const largestPaint = (page) => page.evaluate(() => new Promise((done) => {
  let last = 0;
  new PerformanceObserver((list) => list.getEntries().forEach((entry) => { last = entry.startTime; }))
    .observe({ type: "largest-contentful-paint", buffered: true });
  setTimeout(() => done(last), 300);
}));

async function pages() {
  const player = await open("player"), organizer = await open("organizer");
  const href = (page, start) => page.$eval(`main a[href^="${start}"], nav a[href^="${start}"]`, (a) => a.getAttribute("href"));
  await organizer.goto("/");
  await toMore(organizer);
  await organizer.goto(await organizer.$eval('nav a[href$="/findings"]', (a) => a.href));
  const finding = await href(organizer, "/findings/");
  await player.goto(`/events/${league.event}`);
  const member = await href(player, "/members/");
  await player.goto(`/seasons/${league.season}`);
  const paths = [
    [player, "/account"], [player, "/leagues"], [player, `/events/${league.event}`], [player, `/events/${league.event}/hand-in`],
    [player, `/seasons/${league.season}`], [player, member], [player, await href(player, "/events/")], [organizer, finding],
  ];
  for (const page of [player, organizer]) page.wire = await slowDown(page);
  let baseline;
  for (const [page, path] of paths) {
    const took = [];
    for (let run = 0; run < RUNS; run++) {
      await page.wire.send("Network.clearBrowserCache");
      await page.goto(path);
      took.push(await largestPaint(page));
    }
    baseline ??= median(took);
    const ratio = (median(took) / baseline).toFixed(2);
    console.log(`${path.replace(/[0-9a-f-]{36}/, "{id}")}: largest paint ${median(took).toFixed(0)} ms, ${ratio} of the account's page`);
  }
  await Promise.all([player.context().close(), organizer.context().close()]);
}

async function taps() {
  const page = await open("player");
  await page.goto(`/events/${league.event}/hand-in`);
  const wire = await slowDown(page);
  await page.evaluate(() => {
    window.taps = [];
    new PerformanceObserver((list) => list.getEntries().forEach((entry) => { if (entry.interactionId) taps.push(entry.duration); }))
      .observe({ type: "event", durationThreshold: 16 });
  });
  for (let hole = 0; hole < 5; hole++) {
    const par = await page.locator("tr.current").getAttribute("data-par");
    for (const name of ["putt from 20 feet", "putt from 2 feet", `${par} strokes, par`]) await page.getByRole("button", { name, exact: true }).tap();
  }
  await wire.send("Emulation.setCPUThrottlingRate", { rate: 1 });
  await page.waitForTimeout(200);
  // What took less than 16 ms is not listed; the slowest of so few taps is what the measure takes.
  console.log(`hand-in: slowest of 15 taps ${Math.max(16, ...(await page.evaluate(() => taps)))} ms`);
  await page.context().close();
}

await pages();
await taps();
await chromium.close();
league.stop();

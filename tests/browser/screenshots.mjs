// Takes a picture of every page, on a phone and on a desktop, light and dark: to be looked at, not compared.
//
//   node tests/browser/screenshots.mjs FOLDER
import { mkdir } from "node:fs/promises";
import { browser, crawl, demo, signedIn, template } from "./server.mjs";

const folder = process.argv[2];
if (!folder) throw new Error("name a folder");
await mkdir(folder, { recursive: true });
const SIZES = { phone: { width: 390, height: 844 }, desktop: { width: 1280, height: 900 } };
const [league, chromium] = await Promise.all([demo(), browser()]);
for (const who of ["player", "organizer"]) {
  const page = await signedIn(chromium, league, who);
  for (const path of await crawl(page)) {
    await page.goto(path);
    const name = template(path).replace(/^\//, "").replace(/[/{}]+/g, ".").replace(/\.$/, "") || "first";
    for (const [size, viewport] of Object.entries(SIZES)) {
      await page.setViewportSize(viewport);
      for (const colorScheme of ["light", "dark"]) {
        await page.emulateMedia({ colorScheme });
        await page.evaluate(() => document.getAnimations().forEach((change) => change.finish()));
        await page.screenshot({ path: `${folder}/${who}-${name}-${size}-${colorScheme}.png`, fullPage: size === "desktop" });
      }
    }
  }
  await page.context().close();
}
await chromium.close();
league.stop();

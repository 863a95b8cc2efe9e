// Starts the program as its users do, and a browser.
import { spawn } from "node:child_process";
import { chromium } from "playwright-core";

const PROGRAM = process.env.EVENFIELD ?? new URL("../../target/debug/evenfield", import.meta.url).pathname;

/** Starts a demo league; answers its address, sign-ins, ids and a round that waits to be handed in. */
export async function demo() {
  const child = spawn(PROGRAM, ["demo", "--seed", "7", "--listen", "127.0.0.1:0"], { stdio: ["ignore", "pipe", "ignore"] });
  let text = "";
  for await (const chunk of child.stdout) {
    text += chunk;
    if (/\/putting -H .*"\n?$/.test(text)) break;
  }
  const found = (pattern) => {
    const match = text.match(pattern);
    if (!match) throw new Error(`the demo does not print ${pattern}:\n${text}`);
    return match.slice(1);
  };
  const signIn = (who) => {
    const [email, password] = found(new RegExp(`(${who}@\\S+) +(demo ${who} \\S+)`));
    return { email, password };
  };
  return {
    base: found(/Served at (http:\S+)/)[0],
    player: signIn("player"),
    organizer: signIn("organizer"),
    event: found(/events\/([0-9a-f-]{36})\/board/)[0],
    season: found(/seasons\/([0-9a-f-]{36})\/standings/)[0],
    round: JSON.parse(found(/-d '(\{"client_round_id".*\})'/)[0]),
    stop: () => child.kill(),
  };
}

/** Starts Chromium. */
export function browser() {
  const quiet = ["--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync"];
  const root = process.getuid?.() === 0 ? ["--no-sandbox"] : [];
  return chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: [...quiet, ...root] });
}

/** Signs a page in. */
export async function signIn(page, base, { email, password }) {
  await page.goto(`${base}/sign-in`);
  await page.getByLabel("E-mail").fill(email);
  await page.getByLabel("Password").fill(password);
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.waitForURL((url) => !url.pathname.startsWith("/sign-in"));
}

/** Asks the interface for scripts as whoever is signed in on a page. */
export async function api(page, method, path, body) {
  const send = async ({ method, path, body }) => {
    const headers = { "idempotency-key": crypto.randomUUID(), ...(body && { "content-type": "application/json" }) };
    const answer = await fetch(`/api/v1${path}`, { method, headers, body: body && JSON.stringify(body) });
    return { status: answer.status, body: await answer.json() };
  };
  return page.evaluate(send, { method, path, body });
}

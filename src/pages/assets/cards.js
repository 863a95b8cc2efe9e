"use strict";
// Cards that are kept on this device until the league has them. Every page shows which ones wait and sends them. A card
// belongs to the account that filled it in: no other account reads it, sends it or learns of it.
const cards = (() => {
  const FIRST_WAIT_S = 2, LONGEST_WAIT_S = 60, LONGEST_ANSWER_MS = 30_000;
  const NO_NETWORK = "no network yet";
  const account = document.body.dataset.account;
  const sending = new Set();
  let timer, isSignedOut = false, handedIn = null;

  const make = (name, props, ...children) => {
    const node = Object.assign(document.createElement(name), props);
    node.append(...children);
    return node;
  };

  // ---- the store: account, member, event → card. What this account keeps is mirrored, so that it is read at once ----
  const mirror = new Map();
  const name = (key) => key.join(" ");
  const key = (member, event) => [account, member, event];
  const opened = new Promise((done) => {
    const asked = indexedDB.open("cards", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("cards");
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => done(null);
  }).catch(() => null);
  /** Does something in the store; answers when it is on disk. */
  const inStore = async (mode, act) => {
    const store = await opened;
    if (!store) return undefined;
    return new Promise((done, fail) => {
      const change = store.transaction("cards", mode);
      const asked = act(change.objectStore("cards"));
      change.oncomplete = () => done(asked.result);
      change.onerror = change.onabort = () => fail(change.error);
    });
  };
  const mine = () => IDBKeyRange.bound([account], [account, []]);
  const news = new BroadcastChannel(`cards ${account}`);
  const tellTabs = (key) => news.postMessage(key);
  const read = (key) => mirror.get(name(key))?.card ?? null;
  const all = () => [...mirror.values()].map(({ key }) => key);
  const keep = (key, card) => {
    if (card) mirror.set(name(key), { key, card }); else mirror.delete(name(key));
    return inStore("readwrite", (store) => (card ? store.put(card, key) : store.delete(key))).then(() => tellTabs(key));
  };
  /** Keeps a card; answers when it is on disk, and false where it cannot be kept. */
  const write = (key, card) => { const kept = keep(key, card); run(); return kept.then(async () => Boolean(await opened), () => false); };
  const remove = (key) => { const gone = keep(key, null); run(); return gone; };
  /** Reads a card as it is on disk, where another tab may have changed it. */
  const readAgain = async (key) => {
    if (!(await opened)) return read(key);
    const card = await inStore("readonly", (store) => store.get(key));
    if (card) mirror.set(name(key), { key, card }); else mirror.delete(name(key));
    return card ?? null;
  };
  const readAll = async () => {
    const keys = (await inStore("readonly", (store) => store.getAllKeys(mine()))) ?? [];
    const found = (await inStore("readonly", (store) => store.getAll(mine()))) ?? [];
    keys.forEach((key, n) => mirror.set(name(key), { key, card: found[n] }));
  };
  news.onmessage = async ({ data: key }) => {
    await readAgain(key);
    document.dispatchEvent(new CustomEvent("card", { detail: { key, isElsewhere: true } }));
    run();
  };
  const inState = (state) => all().filter((key) => read(key).state === state);
  const whose = (card) => (card.player ? `${card.player}’s card` : "Your card");
  const file = (key) => {
    const kept = new Blob([JSON.stringify(read(key))], { type: "application/json" });
    return make("a", { href: URL.createObjectURL(kept), download: `card-${key.at(-1)}.json`, textContent: "Save it as a file" });
  };

  // ---- sending ----
  const later = (key, why, seconds = 0) => {
    const card = read(key);
    if (card?.state !== "waiting") return undefined;
    const wait = seconds || Math.min((card.wait || FIRST_WAIT_S / 2) * 2, LONGEST_WAIT_S);
    return write(key, { ...card, why, wait, isBusy: seconds > 0, after: Date.now() + wait * 1000 });
  };
  const told = async (answer) => new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("main");
  const tell = (key, detail) => { document.dispatchEvent(new CustomEvent("card", { detail: { key, ...detail } })); };
  /** Sends a card once. */
  const post = async (key) => {
    const card = await readAgain(key);
    if (card?.state !== "waiting") return undefined;
    let answer;
    try {
      answer = await fetch(card.action, {
        method: "POST", body: new URLSearchParams(card.typed), headers: { accept: "text/html" },
        signal: AbortSignal.timeout(LONGEST_ANSWER_MS),
      });
    } catch {
      return later(key, NO_NETWORK);
    }
    const path = new URL(answer.url).pathname;
    if (answer.ok && path.startsWith("/rounds/")) {
      // What was changed on the card while it was on its way is still to be sent.
      const isWhole = JSON.stringify((await readAgain(key))?.typed) === JSON.stringify(card.typed);
      handedIn = { address: answer.url, words: `${whose(card)} was handed in.${card.isProposed ? ` It waits for ${card.player}.` : ""}` };
      if (isWhole) await remove(key);
      return tell(key, { address: isWhole ? answer.url : card.action });
    }
    if (path.startsWith("/sign-in")) {
      isSignedOut = true;
      await globalThis.caches?.delete("pages");
      return tell(key, { isSignedOut });
    }
    if (answer.status === 429 || answer.status >= 500) {
      return later(key, "the server is busy", Number(answer.headers.get("retry-after")));
    }
    const main = await told(answer);
    const said = main?.querySelector("#faults li") ?? main?.querySelector("p");
    const why = said?.textContent.trim() ?? `The server answered ${answer.status}.`;
    const now = await readAgain(key);
    if (now) await write(key, { ...now, state: "refused", why });
    return tell(key, { why, main });
  };
  // One tab sends at a time; the card's own key settles it where two do.
  const lock = (key, act) => navigator.locks
    ? navigator.locks.request(`send ${name(key)}`, { ifAvailable: true }, (held) => held && act())
    : act();
  const send = async (key) => {
    if (sending.has(name(key))) return;
    sending.add(name(key));
    show();
    try { await lock(key, () => post(key)); } finally { sending.delete(name(key)); }
    run();
  };
  /** Sends what is due, and looks again in a second while anything waits. */
  const run = () => {
    clearTimeout(timer);
    const waiting = inState("waiting");
    show();
    if (waiting.length && !isSignedOut) timer = setTimeout(run, 1000);
    for (const key of waiting) if (!isSignedOut && !((read(key).after ?? 0) > Date.now())) send(key);
  };
  const hasten = (isMeant) => {
    for (const key of inState("waiting")) {
      const card = read(key);
      if (card.after && isMeant(card)) keep(key, { ...card, after: 0 });
    }
    run();
  };
  /** The network may be back: only a server that asked for time is given it. */
  const wake = () => { isSignedOut = false; hasten((card) => !card.isBusy); };
  const sendNow = () => { isSignedOut = false; hasten(() => true); };

  // ---- the bar: what waits, what was refused, what was handed in ----
  const bar = make("section", { id: "waiting", hidden: true });
  bar.setAttribute("aria-label", "Cards on this device");
  const said = make("span", {});
  said.setAttribute("role", "status");
  const count = make("span", {});
  const now = make("button", { type: "button", className: "second", textContent: "Send now", onclick: sendNow });
  const link = make("a", {});
  const line = make("p", {}, said, " ", count, " ", now, " ", link);
  const rest = make("div", {});
  bar.append(line, rest);
  const cardsOf = (waiting) => {
    const players = waiting.map((key) => read(key).player || "yours");
    const names = players.some((player) => player !== "yours") ? ` (${players.join(", ")})` : "";
    return `${waiting.length === 1 ? "1 card waits" : `${waiting.length} cards wait`}${names}`;
  };
  /** Says how it stands with the cards that wait: the words, and the seconds until they are sent again. */
  const standing = () => {
    const waiting = inState("waiting");
    if (waiting.length === 0) return { words: "", seconds: 0 };
    const first = waiting.map(read).reduce((a, b) => ((a.after ?? 0) <= (b.after ?? 0) ? a : b));
    const why = isSignedOut ? "you are signed out" : sending.size ? "sending…" : first.why ?? "not sent yet";
    const seconds = sending.size || isSignedOut ? 0 : Math.max(0, Math.ceil(((first.after ?? 0) - Date.now()) / 1000));
    return { words: `${cardsOf(waiting)}: ${why}${why.endsWith("…") ? "" : "."}`, seconds };
  };
  const show = () => {
    // The page of the card itself says what is wrong with it.
    const refused = inState("refused").filter((key) => read(key).action !== location.pathname + location.search);
    const { words, seconds } = standing();
    bar.hidden = !words && refused.length === 0 && !handedIn;
    line.hidden = !words && !handedIn;
    const text = words || handedIn?.words || "";
    if (said.textContent !== text) said.textContent = text;
    count.textContent = seconds ? `Sending again in ${seconds} s.` : "";
    now.hidden = !words || sending.size > 0 || isSignedOut;
    link.hidden = words ? !isSignedOut : !handedIn;
    link.href = words ? `/sign-in?then=${encodeURIComponent(location.pathname + location.search)}` : handedIn?.address ?? "";
    link.textContent = words ? "Sign in to send it" : "See the card";
    const drawn = JSON.stringify(refused.map((key) => [key, read(key).why]));
    if (drawn === rest.dataset.drawn) return;
    rest.dataset.drawn = drawn;
    rest.replaceChildren(...refused.map((key) => make("p", {},
      `${whose(read(key))} was not handed in: ${read(key).why} It is on this device only. `,
      make("a", { href: read(key).action, textContent: "Open it" }), " · ", file(key), " · ",
      make("button", { type: "button", className: "quiet", textContent: "Discard it…", onclick: () => discard(key) }))));
  };
  const discard = (key) => {
    if (confirm("Discard this card for good? It is on this device only.")) remove(key);
  };

  // ---- signing out ----
  // Signing out removes this account's cards from the device: they are asked about first. Another account's cards stay.
  const signOut = document.querySelector('form[action="/sign-out"]');
  const leave = async () => {
    await inStore("readwrite", (store) => store.delete(mine()));
    await globalThis.caches?.delete("pages");
    signOut.submit();
  };
  const leaving = (kept) => {
    document.getElementById("leaving")?.remove();
    const lines = kept.map((key) => make("li", {}, `${whose(read(key))}, ${read(key).name}: `,
      make("a", { href: read(key).action, textContent: "Look at it and send it" }), " · ", file(key)));
    const asked = make("div", { id: "leaving", className: "faults", tabIndex: -1 },
      make("p", { textContent: "Not signed out yet: a card is on this device only, and signing out removes it." }),
      make("ul", {}, ...lines),
      make("div", { className: "line" },
        make("button", { type: "button", textContent: kept.length === 1 ? "Discard it and sign out" : "Discard them and sign out", onclick: leave }),
        make("button", { type: "button", className: "second", textContent: "Stay", onclick: () => asked.remove() })));
    asked.setAttribute("role", "alert");
    document.getElementById("main").prepend(asked);
    asked.focus();
  };

  document.querySelector(".bottom").prepend(bar);
  const ready = readAll().catch(() => {}).then(run);
  signOut?.addEventListener("submit", async (event) => {
    event.preventDefault();
    await ready;
    const kept = all();
    if (kept.length) leaving(kept); else leave();
  });
  addEventListener("online", wake);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) wake(); });
  // A page that comes back with the Back button may have missed what happened to its cards.
  addEventListener("pageshow", ({ persisted }) => { if (persisted) { mirror.clear(); readAll().then(wake); } });
  ready.then(wake);
  return { NO_NETWORK, make, key, name, read, all, write, remove, send, sendNow, standing, whose, ready };
})();

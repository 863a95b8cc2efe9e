"use strict";
// Cards that are kept on this phone until the league has them. Every page shows which ones wait and sends them. A card
// belongs to the account that filled it in: no other account sees it or sends it.
const cards = (() => {
  const FIRST_WAIT_S = 2, LONGEST_WAIT_S = 60, LONGEST_ANSWER_MS = 30_000;
  const account = document.body.dataset.account;
  const prefix = `card ${account} `;
  const sending = new Set();
  let timer, isSignedOut = false, handedIn = "";

  const make = (name, props, ...children) => {
    const node = Object.assign(document.createElement(name), props);
    node.append(...children);
    return node;
  };
  const key = (member, event) => `${prefix}${member} ${event}`;
  const all = () => Object.keys(localStorage).filter((key) => key.startsWith(prefix));
  const read = (key) => JSON.parse(localStorage.getItem(key) ?? "null");
  const write = (key, card) => { localStorage.setItem(key, JSON.stringify(card)); run(); };
  const remove = (key) => { localStorage.removeItem(key); run(); };
  const inState = (state) => all().filter((key) => read(key)?.state === state);
  const file = (key) => {
    const kept = new Blob([localStorage.getItem(key)], { type: "application/json" });
    return make("a", { href: URL.createObjectURL(kept), download: `card-${key.split(" ").at(-1)}.json`, textContent: "Save it as a file" });
  };

  // ---- sending ----
  const later = (key, why, seconds = 0) => {
    const card = read(key);
    if (card?.state !== "waiting") return;
    const wait = seconds || Math.min((card.wait || FIRST_WAIT_S / 2) * 2, LONGEST_WAIT_S);
    write(key, { ...card, why, wait, isBusy: seconds > 0, after: Date.now() + wait * 1000 });
  };
  const told = async (answer) => new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("main");
  /** Sends a card once. */
  const post = async (key) => {
    const card = read(key);
    if (card?.state !== "waiting") return;
    let answer;
    try {
      answer = await fetch(card.action, {
        method: "POST", body: new URLSearchParams(card.typed), headers: { accept: "text/html" },
        signal: AbortSignal.timeout(LONGEST_ANSWER_MS),
      });
    } catch {
      return later(key, "no network yet");
    }
    const path = new URL(answer.url).pathname;
    const now = read(key);
    if (answer.ok && path.startsWith("/rounds/")) {
      // What was changed on the card while it was on its way is still to be sent.
      const isWhole = JSON.stringify(now?.typed) === JSON.stringify(card.typed);
      handedIn = answer.url;
      if (isWhole) remove(key);
      return tell(key, { address: isWhole ? answer.url : card.action });
    }
    if (path.startsWith("/sign-in")) {
      isSignedOut = true;
      return tell(key, { isSignedOut });
    }
    if (answer.status === 429 || answer.status >= 500) {
      return later(key, "the server is busy", Number(answer.headers.get("retry-after")));
    }
    const main = await told(answer);
    const said = main?.querySelector("#faults li") ?? main?.querySelector("p");
    const why = said?.textContent.trim() ?? `The server answered ${answer.status}.`;
    if (now) write(key, { ...now, state: "refused", why });
    tell(key, { why, main });
  };
  const tell = (key, detail) => { document.dispatchEvent(new CustomEvent("card", { detail: { key, ...detail } })); };
  // One tab sends at a time; the card's own key settles it where two do.
  const lock = (key, act) => navigator.locks
    ? navigator.locks.request(`send ${key}`, { ifAvailable: true }, (held) => held && act())
    : act();
  const send = async (key) => {
    if (sending.has(key)) return;
    sending.add(key);
    show();
    try { await lock(key, () => post(key)); } finally { sending.delete(key); }
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
  /** The network may be back: only a server that asked for time is given it. */
  const wake = () => {
    for (const key of inState("waiting")) {
      const card = read(key);
      if (card.after && !card.isBusy) localStorage.setItem(key, JSON.stringify({ ...card, after: 0 }));
    }
    run();
  };
  const sendNow = () => {
    for (const key of inState("waiting")) localStorage.setItem(key, JSON.stringify({ ...read(key), after: 0 }));
    isSignedOut = false;
    run();
  };

  // ---- the bar: what waits, what was refused, what was handed in ----
  const bar = make("section", { id: "waiting", hidden: true });
  bar.setAttribute("aria-label", "Cards on this phone");
  const said = make("span", {});
  said.setAttribute("role", "status");
  const count = make("span", {});
  const now = make("button", { type: "button", className: "second", textContent: "Send now", onclick: sendNow });
  const signIn = make("a", { textContent: "Sign in to send it" });
  const line = make("p", {}, said, " ", count, " ", now, " ", signIn);
  const rest = make("div", {});
  bar.append(line, rest);
  const cardsOf = (n) => (n === 1 ? "1 card waits" : `${n} cards wait`);
  /** Says how it stands with the cards that wait: the words, and the seconds until they are sent again. */
  const standing = () => {
    const waiting = inState("waiting");
    if (waiting.length === 0) return { words: "", seconds: 0 };
    const first = waiting.map(read).reduce((a, b) => ((a.after ?? 0) <= (b.after ?? 0) ? a : b));
    const why = isSignedOut ? "you are signed out" : sending.size ? "sending…" : first.why ?? "not sent yet";
    const seconds = sending.size || isSignedOut ? 0 : Math.max(0, Math.ceil(((first.after ?? 0) - Date.now()) / 1000));
    return { words: `${cardsOf(waiting.length)}: ${why}${why.endsWith("…") ? "" : "."}`, seconds };
  };
  const show = () => {
    // The page of the card itself says what is wrong with it.
    const refused = inState("refused").filter((key) => read(key).action !== location.pathname + location.search);
    const { words, seconds } = standing();
    bar.hidden = !words && refused.length === 0 && !handedIn;
    line.hidden = !words && !handedIn;
    const text = words || "Your card was handed in.";
    if (said.textContent !== text) said.textContent = text;
    count.textContent = seconds ? `Sending again in ${seconds} s.` : "";
    now.hidden = !words || sending.size > 0 || isSignedOut;
    signIn.hidden = words ? !isSignedOut : !handedIn;
    signIn.href = words ? `/sign-in?then=${encodeURIComponent(location.pathname + location.search)}` : handedIn;
    signIn.textContent = words ? "Sign in to send it" : "See the card";
    const drawn = JSON.stringify(refused.map((key) => [key, read(key).why]));
    if (drawn === rest.dataset.drawn) return;
    rest.dataset.drawn = drawn;
    rest.replaceChildren(...refused.map((key) => make("p", {},
      `1 card was not handed in: ${read(key).why} It is on this phone only. `,
      make("a", { href: read(key).action, textContent: "Open it" }), " · ", file(key), " · ",
      make("button", { type: "button", className: "quiet", textContent: "Discard it…", onclick: () => discard(key) }))));
  };
  const discard = (key) => {
    if (confirm("Discard this card for good? It is on this phone only.")) remove(key);
  };

  // ---- signing out ----
  // Signing out removes this account's cards from the phone: they are asked about first. Another account's cards stay.
  const signOut = document.querySelector('form[action="/sign-out"]');
  const leave = async () => {
    for (const key of all()) localStorage.removeItem(key);
    for (const name of (await globalThis.caches?.keys()) ?? []) await caches.delete(name);
    signOut.submit();
  };
  const leaving = (kept) => {
    document.getElementById("leaving")?.remove();
    const lines = kept.map((key) => make("li", {}, make("a", { href: read(key).action, textContent: "Look at it and send it" }), " · ", file(key)));
    const asked = make("div", { id: "leaving", className: "faults", tabIndex: -1 },
      make("p", { textContent: "Not signed out yet: a card is on this device only, and signing out removes it." }),
      make("ul", {}, ...lines),
      make("div", { className: "line" },
        make("button", { type: "button", textContent: "Discard it and sign out", onclick: leave }),
        make("button", { type: "button", className: "second", textContent: "Stay", onclick: () => asked.remove() })));
    asked.setAttribute("role", "alert");
    document.getElementById("main").prepend(asked);
    asked.focus();
  };
  signOut?.addEventListener("submit", (event) => {
    event.preventDefault();
    const kept = all();
    if (kept.length) leaving(kept); else leave();
  });

  document.querySelector(".top").after(bar);
  addEventListener("online", wake);
  addEventListener("storage", run);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) wake(); });
  // A hand-in page looks at its own card first.
  document.addEventListener("DOMContentLoaded", wake);
  return { make, key, read, write, remove, send, sendNow, standing };
})();

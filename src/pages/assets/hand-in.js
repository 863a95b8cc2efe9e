"use strict";
// The card as it is filled in: hole by hole on the pad, or typed whole. It is kept on this device until the league has
// it, and looked over before it goes.
{
  const byId = (id) => document.getElementById(id);
  const { make } = cards;
  const WIDE = matchMedia("(min-width: 60rem)");
  let form, store, rows, pad, hand, at = 0, isMine = true, counting;

  // ---- the draft ----
  const fields = () => [...form.elements].filter((field) => field.name);
  const draft = () => cards.read(store);
  const clock = () => new Date().toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  /** Keeps the card; looking at another hole changes nothing of whether it waits to be sent. */
  const keep = async (state = draft()?.state ?? "draft") => {
    if (!isMine) return;
    const known = draft();
    if (!known && !form.elements.version) {
      // Made at the first tap: a page that was kept would bring those of an earlier card.
      for (const name of ["client_round_id", "key"]) form.elements[name].value = crypto.randomUUID();
      navigator.storage?.persist?.();
    }
    // As a form is sent: a box that is not ticked says nothing.
    const said = fields().filter((field) => field.type !== "checkbox" || field.checked);
    const typed = Object.fromEntries(said.map((field) => [field.name, field.value]));
    const { name, player = "" } = form.dataset;
    const about = { typed, at, action: form.getAttribute("action"), state, name, player, isProposed: "proposed" in form.dataset };
    const isKept = await cards.write(store, { ...(known?.state === state ? known : {}), ...about });
    if (draft()?.state !== "draft") return;
    if (!isKept) tell("This browser keeps nothing: leave the page open until the card is handed in.");
    else if (known?.state === "waiting") tell("Changed, and not sent yet: hand it in again.");
    else tell(`On this device only, ${clock()}`);
  };
  const restore = () => {
    const kept = draft();
    if (!kept) return false;
    for (const field of fields()) {
      if (field.type === "checkbox") field.checked = field.name in kept.typed;
      else if (field.name in kept.typed) field.value = kept.typed[field.name];
    }
    at = Math.min(kept.at ?? 0, rows.length - 1);
    return kept.state === "waiting";
  };
  // What a file gave goes before the draft; the rest of the draft stays. A reload then shows the card, not the file.
  const takeIn = () => {
    const kept = draft()?.typed ?? {};
    for (const field of fields()) if (!("brought" in field.dataset) && field.name in kept) field.value = kept[field.name];
    keep("draft");
    history.replaceState(null, "", form.getAttribute("action"));
  };
  const say = (text, link) => {
    const state = byId("draft-state");
    state.hidden = false;
    state.replaceChildren(text, ...(link ? [" ", link] : []));
  };

  // ---- the bar: how it stands, and the button that goes on ----
  const total = make("p", { id: "total" }), state = make("p", { id: "send-state", className: "small" });
  state.setAttribute("role", "status");
  const look = make("button", { type: "button", id: "look", textContent: "Review", onclick: () => review() });
  const doing = make("div", { className: "bar doing" }, make("div", {}, total, state), look);
  doing.setAttribute("role", "region");
  doing.setAttribute("aria-label", "This card");
  /** Says beside the button what becomes of the card. */
  const tell = (text, link) => {
    if (state.dataset.text === text) return;
    state.dataset.text = text;
    state.replaceChildren(text, ...(link ? [" ", link] : []));
  };
  const input = (kind, row = rows[at]) => byId(`${kind}_${row.dataset.hole}`);
  const text = (kind, row) => input(kind, row).value.trim();
  /** Adds up the holes that have a number of strokes. */
  const sum = (some = rows) => some.reduce((sum, row) => {
    const strokes = parseInt(text("strokes", row));
    return strokes ? { strokes: sum.strokes + strokes, par: sum.par + Number(row.dataset.par), holes: sum.holes + 1 } : sum;
  }, { strokes: 0, par: 0, holes: 0 });
  const toPar = ({ strokes, par }) => (strokes === par ? "level par" : strokes > par ? `+${strokes - par}` : `−${par - strokes}`);
  const showTotal = () => {
    const all = sum();
    if (all.holes === 0) return total.replaceChildren("No hole yet");
    return total.replaceChildren(make("b", { textContent: all.strokes }), ` after ${all.holes} ${all.holes === 1 ? "hole" : "holes"}, `, make("b", { textContent: toPar(all) }));
  };

  // ---- sending ----
  const follow = () => {
    clearTimeout(counting);
    if (draft()?.state !== "waiting") return;
    const { why } = draft();
    if (why) tell(`Kept on this device: ${why}. It is sent ${why === cards.NO_NETWORK ? "as soon as there is one" : "again soon"}.`);
    counting = setTimeout(follow, 500);
  };
  const send = async () => {
    tell(navigator.onLine ? "Kept on this device. Sending…" : "Kept on this device: no network. It is sent as soon as there is one.");
    const { wait, after, why, ...rest } = draft() ?? {};
    if (draft()) cards.write(store, rest);
    await keep("waiting");
    follow();
  };
  const ended = ({ detail }) => {
    if (cards.name(detail.key) !== cards.name(store)) return undefined;
    if (detail.isElsewhere) {
      // Another tab sent this card, or somebody discarded it.
      return draft() || !isMine ? undefined : location.reload();
    }
    clearTimeout(counting);
    if (detail.address) return location.replace(detail.address);
    if (detail.isSignedOut) {
      const back = `/sign-in?then=${encodeURIComponent(location.pathname + location.search)}`;
      return tell("Kept on this device: you are signed out.", make("a", { href: back, textContent: "Sign in to send it" }));
    }
    const { main, why } = detail;
    // The card stays where it is when the answer brings none: an event that was removed, a proxy's own page.
    if (!main?.querySelector("#card")) return tell(`Not saved: the card is on this device only. ${why}`);
    byId("main").replaceWith(main);
    begin();
    restore();
    refresh();
    tell("Not saved. Please correct the points above; what you typed is on this device.");
    byId("faults")?.focus();
    return undefined;
  };

  // ---- one hole ----
  const refresh = () => {
    rows.forEach((row, n) => row.classList.toggle("current", n === at));
    showTotal(); strip(); pad.show();
  };
  const put = (values) => {
    for (const [kind, value] of Object.entries(values)) input(kind).value = value;
    keep("draft");
    refresh();
  };
  const go = (to) => {
    byId("review")?.remove();
    form.classList.remove("reviewing");
    look.hidden = false;
    hand.hidden = true;
    if (to !== at) { at = to; if (draft()) keep(); }
    refresh();
  };
  const next = () => {
    const isDone = rows.every((row) => text("strokes", row) !== "");
    if (isDone || at === rows.length - 1) return review();
    go(at + 1);
    if (!WIDE.matches) scrollTo({ top: 0 });
    return undefined;
  };
  const holes = make("ol", { className: "strip" });
  const strip = () => {
    if (holes.children.length !== rows.length) {
      const seen = (name, textContent) => { const node = make(name, { textContent }); node.setAttribute("aria-hidden", "true"); return node; };
      holes.replaceChildren(...rows.map((row, n) => make("li", {}, make("button", { type: "button", onclick: () => go(n) },
        make("span", { className: "hidden" }), seen("i", row.dataset.hole), seen("b", "")))));
    }
    rows.forEach((row, n) => {
      const cell = holes.children[n].firstChild, strokes = text("strokes", row);
      cell.lastChild.textContent = strokes || "·";
      cell.firstChild.textContent = `Hole ${row.dataset.hole}: ${strokes ? (/^\d+$/.test(strokes) ? `${strokes} strokes` : `typed ${strokes}`) : "empty"}`;
      if (n === at) cell.setAttribute("aria-current", "step"); else cell.removeAttribute("aria-current");
    });
  };
  const about = () => {
    const { hole, par, index, given } = rows[at].dataset;
    return { number: hole, par: Number(par), index, given: Number(given) };
  };

  // ---- looking it over before it goes ----
  const odd = () => rows.flatMap((row) => {
    const said = text("strokes", row), strokes = parseInt(said), par = Number(row.dataset.par);
    const typed = text("putts", row).split(/[\s;]+/).filter((word) => /^\d/.test(word) && !/putts?$/i.test(text("putts", row)));
    const feet = typed.map((putt) => parseFloat(putt.replace(",", ".")));
    const longer = feet.findIndex((distance, n) => n > 0 && distance > feet[n - 1]);
    const gimme = typed.findIndex((putt, n) => /c$/i.test(putt) && feet[n] > Number(form.dataset.gimme));
    const struck = typed.length - (typed.some((putt) => /c$/i.test(putt)) ? 1 : 0);
    return [
      said === "" && form.elements.outcome.value === "complete" && "no score. Was it not played?",
      (strokes > par + 5 || strokes < par - 2) && `${strokes} ${strokes === 1 ? "stroke" : "strokes"} on a par ${par}?`,
      strokes > 0 && struck >= strokes && feet[0] > 0 && `${struck} ${struck === 1 ? "putt" : "putts"} in ${strokes} ${strokes === 1 ? "stroke" : "strokes"}?`,
      longer > 0 && `a putt from ${feet[longer]} ft after one from ${feet[longer - 1]} ft?`,
      gimme >= 0 && `a gimme from ${feet[gimme]} ft? They go up to ${form.dataset.gimme} ft here.`,
    ].filter(Boolean).map((question) => [row.dataset.hole, question]);
  });
  const link = (hole) => make("a", { href: `#strokes_${hole}`, textContent: `Hole ${hole}` });
  const nine = (some, title) => {
    const line = (row) => make("tr", {}, make("th", { scope: "row" }, link(row.dataset.hole)), make("td", { className: "n", textContent: row.dataset.par }),
      make("td", { className: "n strong", textContent: text("strokes", row) || "–" }),
      make("td", { textContent: puttsInBrief(text("putts", row)) }));
    const all = sum(some);
    const head = ["Hole", "Par", "Score", "Putts from, ft"].map((text, n) => make("th", { scope: "col", className: n === 1 || n === 2 ? "n" : "", textContent: text }));
    const par = some.reduce((sum, row) => sum + Number(row.dataset.par), 0);
    const foot = make("tr", {}, make("th", { scope: "row", textContent: title }), make("td", { className: "n", textContent: par }),
      make("td", { className: "n", textContent: all.strokes || "–" }), make("td", { textContent: all.holes ? toPar(all) : "" }));
    return make("table", { className: "looked" }, make("caption", { className: "hidden", textContent: `Holes ${some[0].dataset.hole} to ${some.at(-1).dataset.hole}` }),
      make("thead", {}, make("tr", {}, ...head)), make("tbody", {}, ...some.map(line)), make("tfoot", {}, foot));
  };
  const review = (isTyped = false) => {
    byId("review")?.remove();
    const questions = odd(), chosen = (id) => byId(id).selectedOptions[0].textContent;
    const day = byId("played_on").valueAsDate?.toLocaleDateString("en-GB", { day: "numeric", month: "long", year: "numeric", timeZone: "UTC" });
    const around = [`Simulator: ${chosen("setup_id")}`, `played on ${day ?? "no day"}`, chosen("outcome").toLowerCase()];
    const asked = questions.length ? [make("div", { className: "faults" }, make("p", { textContent: "Not sent yet. Is this right?" }),
      make("ul", {}, ...questions.map(([hole, question]) => make("li", {}, link(hole), `: ${question}`))))] : [];
    const said = make("section", { id: "review", className: "panel", tabIndex: -1 }, make("h2", { textContent: "Look over the card" }), ...asked,
      make("div", { className: "beside" }, nine(rows.slice(0, 9), rows.length > 9 ? "Out" : "All"), ...(rows.length > 9 ? [nine(rows.slice(9), "In")] : [])),
      make("p", { textContent: `${around.join(" · ")}.` }),
      make("p", { className: "line" }, make("button", { type: "button", className: "second", textContent: "Back to the holes", onclick: () => go(at) })));
    said.setAttribute("aria-label", "Look over the card");
    form.prepend(said);
    form.classList.add("reviewing");
    look.hidden = true;
    hand.hidden = false;
    scrollTo({ top: 0 });
    // Whoever typed goes on with Enter, unless there is a question to read.
    if (isTyped && questions.length === 0) hand.focus({ preventScroll: true });
    else said.focus({ preventScroll: true });
  };
  const submitted = (event) => {
    event.preventDefault();
    if (form.classList.contains("reviewing")) send(); else review();
  };
  // A link to a hole opens it.
  const openHole = (event) => {
    const hole = event.target.closest?.('a[href^="#strokes_"]')?.hash.slice("#strokes_".length);
    const to = rows?.findIndex((row) => row.dataset.hole === hole) ?? -1;
    if (to < 0) return;
    event.preventDefault();
    go(to);
    if (input("strokes").offsetParent) input("strokes").focus();
    else byId("pad").querySelector("h2").focus();
  };

  // ---- two tabs ----
  const lock = (options = {}) => navigator.locks?.request(cards.name(store), options, (held) => {
    if (!held) return yields();
    isMine = true;
    return new Promise(() => {});
  }).catch(yields);
  const yields = () => {
    isMine = false;
    for (const field of form.elements) field.disabled = true;
    look.disabled = true;
    const take = make("button", { type: "button", className: "second", textContent: "Write on here", onclick: async () => {
      lock({ steal: true });
      for (const field of form.elements) field.disabled = false;
      look.disabled = false;
      isMine = true;
      if (restore()) send();
      go(at);
      say("On this device only.");
    } });
    say("This card is open in another tab.", take);
  };

  // ---- the keyboard: Enter goes across, to the putts of the hole and on to the next hole ----
  const reach = (kind, row) => {
    if (!row) return;
    input(kind, row).focus();
    input(kind, row).select();
  };
  const keys = (event) => {
    const field = event.target;
    // Enter in a field of the pad is no wish to hand in.
    if (event.key === "Enter" && field.closest("#numbers")) return event.preventDefault();
    const [kind, hole] = (field.name ?? "").split("_");
    if (!["strokes", "putts", "sensor"].includes(kind)) return undefined;
    const row = rows.findIndex((row) => row.dataset.hole === hole);
    if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      event.preventDefault();
      return reach(kind, rows[row + (event.key === "ArrowDown" ? 1 : -1)]);
    }
    if (event.key !== "Enter") return undefined;
    event.preventDefault();
    if (kind === "strokes") return reach("putts", rows[row]);
    if (rows[row + 1]) return reach(kind === "putts" ? "strokes" : "sensor", rows[row + 1]);
    return review(true);
  };
  const typed = (event) => {
    const field = event.target;
    keep("draft");
    refresh();
    // A digit is a score, and the next field waits; 1 may begin a longer one.
    if (/^strokes_/.test(field.name) && /^[2-9]$/.test(field.value)) reach("putts", field.closest("tr"));
  };

  /** Names the other cards that wait here to be filled in for this event. */
  const others = () => {
    byId("others")?.remove();
    const found = cards.all().filter((key) => key.at(-1) === form.dataset.event && cards.name(key) !== cards.name(store));
    if (found.length === 0) return;
    const links = found.flatMap((key, n) => [n ? ", " : "", make("a", { href: cards.read(key).action, textContent: cards.read(key).player || "mine" })]);
    byId("draft-state").before(make("p", { id: "others", className: "small" }, "Other cards on this device: ", ...links, "."));
  };

  const begin = () => {
    form = byId("card");
    if (!form) return;
    store = cards.key(form.dataset.member, form.dataset.event);
    rows = [...form.querySelectorAll("tr[data-hole]")];
    at = Math.min(at, rows.length - 1);
    // Without script a nine is shown at a time; the pad shows a hole.
    document.querySelector(".nines")?.remove();
    pad = padOf({ at: () => at, hole: about, text: (kind) => input(kind).value, put, go, next, say: tell });
    holes.replaceChildren();
    const nav = make("nav", {}, holes);
    nav.setAttribute("aria-label", "Holes");
    form.querySelector(".typed").before(nav, pad.node);
    form.classList.add("padded");
    form.querySelector(".around .line")?.remove();
    hand?.remove();
    const whole = make("button", { type: "button", id: "holes", className: "second", textContent: "Type the whole card", onclick: () => {
      whole.textContent = form.classList.toggle("all") ? "One hole at a time" : "Type the whole card";
    } });
    form.querySelector(".around").append(make("p", { className: "line" }, whole));
    hand = make("button", { id: "send", hidden: true, textContent: form.elements.version ? "Save the change" : "Hand in" });
    hand.setAttribute("form", "card");
    doing.append(hand);
    form.addEventListener("submit", submitted);
    form.addEventListener("keydown", keys);
    form.addEventListener("input", typed);
    form.addEventListener("focusin", (event) => {
      const row = rows.indexOf(event.target.closest("tr"));
      if (row >= 0 && row !== at) { at = row; refresh(); }
    });
    tell(form.dataset.player ? `${form.dataset.player}’s card${"proposed" in form.dataset ? ": it counts once it is accepted" : ""}` : form.elements.version ? "As handed in" : "Nothing on it yet");
    go(at);
  };
  const start = async () => {
    await cards.ready;
    const had = draft(), isBrought = "brought" in form.dataset;
    if (isBrought) takeIn();
    const isSending = byId("faults") || isBrought ? false : restore();
    go(at);
    others();
    if (byId("faults")) byId("faults").focus();
    else if (WIDE.matches && !document.activeElement?.closest("main")) reach("strokes", rows.find((row) => text("strokes", row) === ""));
    if (isSending) follow();
    else if (had && !isBrought) tell("On this device only, as you left it.");
  };

  begin();
  if (form) {
    const bottom = document.querySelector(".bottom");
    bottom.querySelector("nav")?.remove();
    bottom.append(doing);
    // Read after the card, though it stands beside or below it.
    document.querySelector(".content").after(bottom);
    document.addEventListener("click", openHole);
    document.addEventListener("card", ended);
    lock({ ifAvailable: true });
    start();
  }
}

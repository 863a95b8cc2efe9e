"use strict";
// The card on a phone: one hole at a time, kept on the phone until the server has it.
{
  const DISTANCES = [1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50];
  const STROKES = [1, 2, 3, 4, 5, 6, 7, 8, 9];
  const byId = (id) => document.getElementById(id);
  const { make } = cards;
  let form, store, rows, at, counting, isMine = true;

  // ---- the draft ----
  const fields = () => [...form.elements].filter((field) => field.name);
  const draft = () => cards.read(store);
  /** Keeps the card; looking at another hole changes nothing of whether it waits to be sent. */
  const keep = (state = draft()?.state ?? "draft") => {
    if (!isMine) return;
    const known = draft();
    if (!known && !form.elements.version) {
      // Made at the first tap: a page from the cache would bring those of an earlier card.
      for (const name of ["client_round_id", "key"]) form.elements[name].value = crypto.randomUUID();
      navigator.storage?.persist?.();
    }
    // As a form is sent: a box that is not ticked says nothing.
    const said = fields().filter((field) => field.type !== "checkbox" || field.checked);
    const typed = Object.fromEntries(said.map((field) => [field.name, field.value]));
    const isSame = known?.state === state;
    cards.write(store, { ...(isSame ? known : {}), typed, at, action: form.getAttribute("action"), state });
    if (known?.state === "waiting" && state === "draft") tell("Changed, and not sent yet: hand it in again.");
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

  // ---- sending ----
  /** Says beside the button what becomes of the card. */
  const tell = (text, link) => {
    const state = byId("send-state");
    state.hidden = false;
    if (state.dataset.text === text) return;
    state.dataset.text = text;
    state.replaceChildren(text, ...(link ? [" ", link] : []));
    state.scrollIntoView({ block: "nearest" });
  };
  const follow = () => {
    clearTimeout(counting);
    if (draft()?.state !== "waiting") return;
    const { why, isBusy } = draft();
    if (why) tell(`Kept on this phone: ${why}. It is sent ${isBusy ? "again soon" : "as soon as there is one"}.`);
    counting = setTimeout(follow, 500);
  };
  const send = () => {
    keep("waiting");
    tell(navigator.onLine ? "Kept on this phone. Sending…" : "Kept on this phone: no network. It is sent as soon as there is one.");
    cards.write(store, { ...draft(), after: 0 });
    follow();
  };
  const ended = ({ detail }) => {
    if (detail.key !== store) return;
    clearTimeout(counting);
    if (detail.address) return location.replace(detail.address);
    if (detail.isSignedOut) {
      const back = `/sign-in?then=${encodeURIComponent(location.pathname + location.search)}`;
      return tell("Kept on this phone: you are signed out.", make("a", { href: back, textContent: "Sign in to send it" }));
    }
    const { main, why } = detail;
    // The card stays where it is when the answer brings none: an event that was removed, a proxy's own page.
    if (!main?.querySelector("#card")) return tell(`Needs you: the card is on this phone only. ${why}`);
    byId("main").replaceWith(main);
    begin();
    say("Needs you: nothing was stored yet. What you typed is on this phone.");
    byId("faults")?.focus();
  };

  // ---- one hole at a time ----
  const input = (kind, row = rows[at]) => byId(`${kind}_${row.dataset.hole}`);
  const changed = () => { keep("draft"); total(); show(); };
  const put = (kind, value) => {
    input(kind).value = value;
    // Numbers go with their putt.
    if (kind === "putts") setSensor(sensor().slice(0, putts().length));
    changed();
  };
  const putts = (row) => {
    const text = input("putts", row).value;
    return /putts?\s*$/i.test(text) || text.trim() === "0" ? [] : text.split(/[\s;]+/).filter(Boolean);
  };
  const total = () => {
    const line = byId("total");
    let strokes = 0, par = 0, holes = 0;
    for (const row of rows) {
      const value = Number(input("strokes", row).value);
      if (!value) continue;
      strokes += value; par += Number(row.dataset.par); holes += 1;
    }
    const over = strokes - par;
    line.hidden = holes === 0;
    const words = over === 0 ? "level par" : over > 0 ? `${over} over par` : `${-over} under par`;
    line.textContent = `${strokes} strokes after ${holes} ${holes === 1 ? "hole" : "holes"}: ${words}`;
  };
  const button = (text, label, onclick, className = "second") => {
    const node = make("button", { type: "button", textContent: text, onclick, className });
    if (label) node.setAttribute("aria-label", label);
    return node;
  };
  const group = (title, ...children) => make("fieldset", {}, make("legend", { textContent: title }), ...children);
  const go = (to) => { at = to; keep(); show(); rows[at].scrollIntoView({ block: "nearest" }); };
  const pad = () => {
    const strokes = STROKES.map((n) => button(String(n), `${n} strokes`, () => put("strokes", n)));
    const distances = DISTANCES.map((feet) => button(String(feet), `putt from ${feet} feet`, () => put("putts", [...putts(), feet].join(" "))));
    return make("div", { id: "pad" },
      group("Strokes", ...strokes, button("Picked up", "", () => put("strokes", `${parseInt(input("strokes").value) || ""}p`))),
      group("Add a putt from, ft", ...distances,
        button("Last one conceded", "", () => { const all = putts(); if (all.length) put("putts", [...all.slice(0, -1), all.at(-1).replace(/c?$/, "c")].join(" ")); }),
        button("No putt", "", () => put("putts", "0")),
        button("Undo", "Undo the last putt", () => put("putts", putts().slice(0, -1).join(" ")))),
      numbers(),
      make("div", { className: "line" },
        button("Hole before", "", () => go(Math.max(at - 1, 0))),
        make("button", { type: "button", id: "next", textContent: "Next hole", onclick: () => go(Math.min(at + 1, rows.length - 1)) }),
        button("Whole card", "", () => form.classList.remove("one"))));
  };

  // ---- what a sensor said, behind one tap ----
  const NUMBERS = [
    { label: "Ball speed, mph" },
    { label: "Start line, °", sides: [["R", "right"], ["L", "left"]] },
    { label: "Played line, °", sides: [["R", "right"], ["L", "left"]] },
    { label: "Rise, in", sides: [["", "up"], ["-", "down"]] },
  ];
  const sensor = () => input("sensor").value.split(";").map((said) => said.trim().split(/\s+/).filter(Boolean));
  const upTo = (all, isSaid) => all.slice(0, all.findLastIndex(isSaid) + 1);
  const setSensor = (said) => {
    const words = said.map((numbers) => upTo(numbers, (word) => word !== "-").join(" "));
    input("sensor").value = upTo(words, Boolean).join("; ");
  };
  const number = (putt, n, word = "-") => {
    const { label, sides } = NUMBERS[n];
    const bare = word === "-" ? "" : word.replace(/[LR]$/i, "").replace(/^[-−]/, "");
    const id = `number_${putt}_${n}`;
    const isOther = /L$/i.test(word) || (/^[-−]./.test(word) && !/R$/i.test(word));
    const field = make("input", { id, type: "text", inputMode: "decimal", autocomplete: "off", value: bare });
    const all = [make("label", { htmlFor: id, textContent: label }), field];
    if (sides) {
      const side = make("select", {}, ...sides.map(([, name]) => make("option", { textContent: name })));
      side.selectedIndex = isOther ? 1 : 0;
      side.setAttribute("aria-label", `${label}, which way, putt ${putt + 1}`);
      all.push(side);
    } else all.push(make("span", {}));
    field.setAttribute("aria-label", `${label}, putt ${putt + 1}`);
    return all;
  };
  const typedNumber = (putt, n) => {
    const field = byId(`number_${putt}_${n}`), value = field.value.trim().replace(/\s/g, "");
    if (value === "") return "-";
    const side = NUMBERS[n].sides?.[field.nextElementSibling.selectedIndex][0] ?? "";
    // A side or a sign that was typed stays as it is.
    if (/^[-−+]|[LR]$/i.test(value)) return value;
    return side === "-" ? `-${value}` : Number(value.replace(",", ".")) === 0 ? value : value + side;
  };
  const readNumbers = () => setSensor(putts().map((_, putt) => NUMBERS.map((_, n) => typedNumber(putt, n))));
  const showNumbers = () => {
    const box = byId("numbers"), drawn = `${at} ${putts().join(" ")}`;
    if (!box.parentNode.open || box.dataset.drawn === drawn) return;
    box.dataset.drawn = drawn;
    const said = sensor();
    const groups = putts().map((feet, putt) => group(`Putt ${putt + 1}, from ${feet} ft`,
      make("div", { className: "numbers" }, ...NUMBERS.flatMap((_, n) => number(putt, n, said[putt]?.[n])))));
    box.replaceChildren(...(groups.length ? groups : [make("p", { textContent: "Add a putt first." })]));
  };
  const numbers = () => {
    const all = make("details", {}, make("summary", { textContent: "Sensor numbers" }), make("div", { id: "numbers" }));
    all.addEventListener("toggle", showNumbers);
    all.addEventListener("input", readNumbers);
    return all;
  };
  const show = () => {
    rows.forEach((row, n) => row.classList.toggle("current", n === at));
    const value = parseInt(input("strokes").value), par = Number(rows[at].dataset.par);
    for (const node of byId("pad").querySelectorAll("fieldset:first-child button")) {
      node.setAttribute("aria-pressed", String(Number(node.textContent) === value));
      node.classList.toggle("par", Number(node.textContent) === par);
    }
    byId("next").disabled = at === rows.length - 1;
    showNumbers();
  };

  // ---- looking again before it goes out ----
  const odd = () => rows.flatMap((row) => {
    const said = input("strokes", row).value.trim(), strokes = parseInt(said), par = Number(row.dataset.par);
    const feet = putts(row).map((putt) => parseFloat(putt.replace(",", ".")));
    const longer = feet.findIndex((distance, n) => n > 0 && distance > feet[n - 1]);
    return [
      said === "" && form.elements.outcome.value === "complete" && "no strokes. Was it not played?",
      (strokes > par + 5 || strokes < par - 2) && `${strokes} ${strokes === 1 ? "stroke" : "strokes"} on a par ${par}?`,
      longer > 0 && `a putt from ${feet[longer]} ft after one from ${feet[longer - 1]} ft?`,
    ].filter(Boolean).map((question) => [row.dataset.hole, question]);
  });
  const review = (event) => {
    event.preventDefault();
    byId("review")?.remove();
    const questions = odd();
    if (questions.length === 0) return send();
    const items = questions.map(([hole, question]) => make("li", {}, make("a", { href: `#strokes_${hole}`, textContent: `Hole ${hole}` }), `: ${question}`));
    const asked = make("div", { id: "review", className: "faults", tabIndex: -1 },
      make("p", { textContent: "Nothing was sent yet. Is this right?" }), make("ul", {}, ...items),
      make("button", { type: "button", textContent: "Yes, send it", onclick: () => { asked.remove(); send(); } }));
    asked.setAttribute("role", "alert");
    byId("send").parentNode.before(asked);
    asked.focus();
  };
  // A link to a hole opens it where one hole is shown at a time.
  const openHole = (event) => {
    const hole = event.target.closest?.('a[href^="#strokes_"]')?.hash.slice("#strokes_".length);
    const to = rows?.findIndex((row) => row.dataset.hole === hole) ?? -1;
    if (to < 0) return;
    event.preventDefault();
    go(to);
    input("strokes").focus();
  };

  // ---- two tabs ----
  const lock = (options = {}) => navigator.locks?.request(store, options, (held) => {
    if (!held) return yields();
    isMine = true;
    return new Promise(() => {});
  }).catch(yields);
  const yields = () => {
    isMine = false;
    for (const field of form.elements) field.disabled = true;
    const take = button("Write on here", "", async () => {
      lock({ steal: true });
      for (const field of form.elements) field.disabled = false;
      isMine = true;
      if (restore()) send();
      total(); show();
      say("On this phone only.");
    });
    take.disabled = false;
    say("This card is open in another tab.", take);
  };

  // ---- the keyboard ----
  const keys = (event) => {
    const field = event.target;
    // Enter in a field of the pad is no wish to hand in.
    if (event.key === "Enter" && field.closest("#numbers")) return event.preventDefault();
    if (!/^(strokes|putts|sensor)_/.test(field.name ?? "")) return;
    const [kind, hole] = field.name.split("_");
    const row = rows.findIndex((row) => row.dataset.hole === hole);
    const to = { ArrowDown: row + 1, ArrowUp: row - 1, Enter: row + 1 }[event.key];
    if (to === undefined) return;
    event.preventDefault();
    const target = rows[to] && input(kind, rows[to]);
    target?.focus();
    target?.select();
  };
  const typed = (event) => {
    const field = event.target;
    keep("draft");
    total();
    show();
    // A digit is a score, and the next field waits; 1 may begin a longer one.
    if (/^strokes_/.test(field.name) && /^[2-9]$/.test(field.value)) input("putts", field.closest("tr")).focus();
  };

  const begin = () => {
    form = byId("card");
    if (!form) return;
    store = cards.key(form.dataset.member, form.dataset.event);
    rows = [...form.querySelectorAll("tr[data-hole]")];
    at ??= 0;
    form.querySelector("table").after(pad());
    form.querySelector("table").before(make("button", {
      type: "button", id: "holes", className: "second", textContent: "One hole at a time", onclick: () => { form.classList.add("one"); show(); },
    }));
    if (matchMedia("(max-width: 40rem)").matches) form.classList.add("one");
    form.addEventListener("submit", review);
    form.addEventListener("keydown", keys);
    form.addEventListener("input", typed);
    form.addEventListener("focusin", (event) => {
      const row = rows.indexOf(event.target.closest("tr"));
      if (row >= 0 && row !== at) { at = row; show(); }
    });
    const had = draft();
    const isBrought = "brought" in form.dataset;
    if (isBrought) takeIn();
    const isSending = byId("faults") || isBrought ? false : restore();
    total();
    show();
    if (isBrought) byId("faults")?.focus();
    if (isSending) follow();
    else if (had && !isBrought) say("On this phone only, as you left it.");
  };

  begin();
  if (form) {
    document.addEventListener("click", openHole);
    lock({ ifAvailable: true });
    document.addEventListener("card", ended);
    // Another tab sent this card, or somebody discarded it.
    addEventListener("storage", (event) => { if (event.key === store && event.newValue === null) location.reload(); });
    navigator.serviceWorker?.register("/service-worker.js");
  }
}

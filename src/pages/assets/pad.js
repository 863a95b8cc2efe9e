"use strict";
// The pad of one hole: the putts first, then the score, which ends the hole. It knows nothing of how the card is kept:
// it reads and writes the fields of a hole through `card` and says when a hole is done.
const padOf = (card) => {
  const DISTANCES = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 18, 20, 25, 30, 40, 50];
  const NAMES = { "-2": "−2", "-1": "−1", 0: "par", 1: "+1", 2: "+2", 3: "+3" };
  const MOST_PUTTS = 10;
  const { make } = cards;
  const done = [];

  /** A key; where its sign is not enough to be read aloud, it has words of its own. */
  const key = (sign, words, onclick, note = "") => {
    const shown = [sign, ...(note ? [make("i", { textContent: note })] : [])];
    if (!words) return make("button", { type: "button", onclick }, ...shown);
    const seen = make("span", {}, ...shown);
    seen.setAttribute("aria-hidden", "true");
    return make("button", { type: "button", onclick }, make("span", { className: "hidden", textContent: words }), seen);
  };
  const keys = (className, ...children) => make(className.includes("four") ? "div" : "fieldset", { className }, ...children);
  const legend = (...said) => make("legend", {}, ...said);

  // ---- putts ----
  const typed = () => card.text("putts").trim();
  /** The putts of the hole that have a distance, as they are written. */
  const putts = () => (/putts?$/i.test(typed()) || typed() === "0" ? [] : typed().split(/[\s;]+/).filter(Boolean));
  const change = (fields) => {
    done.push({ at: card.at(), was: { strokes: card.text("strokes"), putts: card.text("putts"), sensor: card.text("sensor") } });
    card.put(fields);
  };
  const setPutts = (all) => change({ putts: all.join(" "), sensor: sensorOf(sensor().slice(0, all.length)) });
  const add = (feet) => {
    if (putts().length >= MOST_PUTTS) return card.say(`A hole holds at most ${MOST_PUTTS} putts.`);
    setPutts([...putts(), feet]);
  };
  const gimme = () => {
    const all = putts();
    if (all.length === 0) return card.say("Tap how long the gimme was, then Gimme.");
    const last = all.at(-1);
    setPutts([...all.slice(0, -1), /c$/i.test(last) ? last.slice(0, -1) : `${last}c`]);
  };
  const undo = () => {
    const last = done.pop();
    // What was tapped before the page was loaded is not known step by step; its putts are.
    if (!last) return putts().length ? (setPutts(putts().slice(0, -1)), void done.pop()) : card.say("Nothing to undo.");
    card.go(last.at);
    card.put(last.was);
  };

  // ---- what has no key: a distance with halves, a high score ----
  const NUMERALS = [1, 2, 3, 4, 5, 6, 7, 8, 9, 0];
  let asked = null;
  const value = () => (asked.digits || "0") + (asked.half ? ".5" : "");
  const showAsked = () => {
    other.querySelector("output").textContent = value().replace(".5", "½");
    const take = other.querySelector(".take");
    take.textContent = `${asked.verb} ${value().replace(".5", "½")}${asked.unit}`;
    take.disabled = !(Number(value()) > 0);
  };
  const press = (digit) => {
    const digits = `${asked.digits}${digit}`.replace(/^0+/, "");
    if (Number(digits) <= asked.most) asked.digits = digits;
    asked.half = false;
    showAsked();
  };
  const back = () => {
    if (asked.half) asked.half = false;
    else asked.digits = asked.digits.slice(0, -1);
    showAsked();
  };
  const other = make("div", { className: "other", hidden: true },
    keys("keys", legend("", make("output", {})), ...NUMERALS.map((n) => key(String(n), "", () => press(n))),
      key("½", "and a half", () => { asked.half = !asked.half && Number(asked.digits || 0) < asked.most; showAsked(); }), key("⌫", "Delete the last digit", back)),
    keys("keys four", key("Cancel", "", () => ask(null)), make("button", { type: "button", className: "take", onclick: () => { const { take } = asked, said = value(); ask(null); take(said); } })));
  const ask = (what) => {
    asked = what && { digits: "", half: false, ...what };
    other.hidden = !asked;
    usual.hidden = Boolean(asked);
    if (!asked) return show();
    other.querySelector("legend").firstChild.data = `${asked.title}: `;
    other.querySelectorAll(".keys button")[10].hidden = !asked.halves;
    showAsked();
    other.querySelector("button").focus({ preventScroll: true });
  };

  // ---- the score ends the hole ----
  const end = (strokes) => { change({ strokes: String(strokes) }); card.next(); };
  const scores = keys("keys score"), more = keys("keys four");
  const drawScores = (par) => {
    const six = Object.keys(NAMES).map(Number).sort((a, b) => a - b).map((over) => par + over);
    const score = (n, over) => {
      const node = key(String(n), `${n} ${n === 1 ? "stroke" : "strokes"}${over === undefined ? "" : `, ${NAMES[over]}`}`, () => end(n), NAMES[over]);
      node.dataset.strokes = n;
      if (over === 0) node.classList.add("par");
      return node;
    };
    const rest = [1, 2, 3, 4, 5, 6, 7, 8].filter((n) => !six.includes(n)).slice(0, 2);
    const from = Math.max(...six, ...rest) + 1;
    scores.replaceChildren(legend("Score: ends the hole"), ...six.map((n) => score(n, n - par)));
    more.replaceChildren(...rest.map((n) => score(n)),
      key(`${from} or more`, "", () => ask({ title: "Strokes on the hole", most: 99, verb: "Score", unit: "", take: end })),
      key("Picked up", "", () => { change({ strokes: `${parseInt(card.text("strokes")) || ""}p` }); card.next(); }));
    scores.dataset.par = par;
  };

  // ---- what a sensor said, behind one tap ----
  const NUMBERS = [
    { label: "Ball speed, mph" },
    { label: "Start line, °", sides: [["R", "right"], ["L", "left"]] },
    { label: "Played line, °", sides: [["R", "right"], ["L", "left"]] },
    { label: "Rise, in", sides: [["", "up"], ["-", "down"]] },
  ];
  const sensor = () => card.text("sensor").split(";").map((said) => said.trim().split(/\s+/).filter(Boolean));
  const upTo = (all, isSaid) => all.slice(0, all.findLastIndex(isSaid) + 1);
  const sensorOf = (said) => upTo(said.map((numbers) => upTo(numbers, (word) => word !== "-").join(" ")), Boolean).join("; ");
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
    const field = document.getElementById(`number_${putt}_${n}`), said = field.value.trim().replace(/\s/g, "");
    if (said === "") return "-";
    const side = NUMBERS[n].sides?.[field.nextElementSibling.selectedIndex][0] ?? "";
    // A side or a sign that was typed stays as it is.
    if (/^[-−+]|[LR]$/i.test(said)) return said;
    return side === "-" ? `-${said}` : Number(said.replace(",", ".")) === 0 ? said : said + side;
  };
  const box = make("div", { id: "numbers" });
  const numbers = make("details", {}, make("summary", { textContent: "Sensor numbers" }), box);
  const showNumbers = () => {
    const drawn = `${card.at()} ${putts().join(" ")}`;
    if (!numbers.open || box.dataset.drawn === drawn) return;
    box.dataset.drawn = drawn;
    const said = sensor();
    const groups = putts().map((feet, putt) => make("fieldset", {}, legend(`Putt ${putt + 1}, from ${feet} ft`),
      make("div", { className: "numbers" }, ...NUMBERS.flatMap((_, n) => number(putt, n, said[putt]?.[n])))));
    box.replaceChildren(...(groups.length ? groups : [make("p", { textContent: "Add a putt first." })]));
  };
  numbers.addEventListener("toggle", showNumbers);
  numbers.addEventListener("input", () => {
    card.put({ sensor: sensorOf(putts().map((_, putt) => NUMBERS.map((_, n) => typedNumber(putt, n)))) });
  });

  // ---- the whole ----
  const head = make("h2", { tabIndex: -1 }), about = make("span", {}), said = make("p", { className: "putts" });
  said.setAttribute("role", "status");
  const usual = make("div", { className: "usual" },
    keys("keys", legend("Putts: from how far, ft"), ...DISTANCES.map((feet) => key(String(feet), `putt from ${feet} feet`, () => add(String(feet))))),
    keys("keys four",
      key("Other…", "Other distance", () => ask({ title: "Putt from, ft", most: 200, halves: true, verb: "Add", unit: " ft", take: add })),
      key("Gimme", "", gimme), key("No putt", "", () => setPutts(["0"])), key("Undo", "", undo)),
    said, scores, more);
  const show = () => {
    const { number, par, index, given } = card.hole();
    if (head.dataset.hole !== number) {
      head.dataset.hole = number;
      head.textContent = `Hole ${number}`;
      const strokes = given === 0 ? "no stroke here" : `${given} ${Math.abs(given) === 1 ? "stroke" : "strokes"} here`;
      about.replaceChildren(`par ${par} · index ${index} · `, make("b", { textContent: strokes }));
      if (asked) ask(null);
      // The key that ended the hole may be gone: whoever uses the keyboard goes on from the head of the next.
      if (node.contains(document.activeElement)) head.focus({ preventScroll: true });
    }
    if (scores.dataset.par !== String(par)) drawScores(par);
    const strokes = /^\d+$/.test(card.text("strokes").trim()) ? card.text("strokes").trim() : "";
    for (const node of usual.querySelectorAll("[data-strokes]")) node.setAttribute("aria-pressed", String(node.dataset.strokes === strokes));
    const words = puttsInWords(card.text("putts"), /p\s*$/i.test(card.text("strokes")));
    if (said.textContent !== words) said.textContent = words;
    showNumbers();
  };
  const node = make("section", { id: "pad", className: "panel pad" }, make("div", { className: "hole" }, head, about), usual, other, numbers);
  node.setAttribute("aria-label", "The hole");
  return { node, show };
};

/** Says the putts of a hole in words. */
const puttsInWords = (text, isPickedUp) => {
  const typed = text.trim();
  if (typed === "") return "No putt yet";
  if (typed === "0") return "No putt";
  if (/putts?$/i.test(typed)) return `${typed}, distances not known`;
  const all = typed.split(/[\s;]+/), ends = ["st", "nd", "rd"];
  return all.map((putt, n) => {
    const feet = putt.replace(/[cm]$/i, "").replace(/\.5$/, "½");
    const how = /c$/i.test(putt) ? ", gimme" : n === all.length - 1 && !isPickedUp && !/m$/i.test(putt) ? ", holed" : "";
    return `${n + 1}${ends[n] ?? "th"} ${feet} ft${how}`;
  }).join(" · ");
};
/** The same in few signs, for a table: distances in feet. */
const puttsInBrief = (text) => {
  const typed = text.trim();
  if (typed === "") return "–";
  if (typed === "0") return "none";
  if (/putts?$/i.test(typed)) return typed;
  return typed.split(/[\s;]+/).map((putt) => putt.replace(/c$/i, " gimme").replace(/m$/i, " missed")).join(" · ");
};

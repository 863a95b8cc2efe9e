"use strict";
// Signing out clears what this browser keeps: a card that the league does not have yet is asked about first.
{
  const form = document.querySelector('form[action="/sign-out"]');
  const make = (name, props, ...children) => {
    const node = Object.assign(document.createElement(name), props);
    node.append(...children);
    return node;
  };
  const drafts = () => Object.keys(localStorage).filter((key) => key.startsWith("card "));
  const line = (key) => {
    const [, member, event] = key.split(" ");
    const file = new Blob([localStorage.getItem(key)], { type: "application/json" });
    return make("li", {},
      make("a", { href: `/events/${event}/hand-in?member=${member}`, textContent: "Look at it and send it" }), " · ",
      make("a", { href: URL.createObjectURL(file), download: `card-${event}.json`, textContent: "Save it as a file" }));
  };
  form?.addEventListener("submit", (event) => {
    const kept = drafts();
    if (kept.length === 0) return;
    event.preventDefault();
    document.getElementById("leaving")?.remove();
    const discard = () => { for (const key of kept) localStorage.removeItem(key); form.submit(); };
    const asked = make("div", { id: "leaving", className: "faults", tabIndex: -1 },
      make("p", { textContent: "Not signed out yet: a card is on this device only, and signing out removes it." }),
      make("ul", {}, ...kept.map(line)),
      make("div", { className: "line" },
        make("button", { type: "button", textContent: "Discard it and sign out", onclick: discard }),
        make("button", { type: "button", className: "second", textContent: "Stay", onclick: () => asked.remove() })));
    asked.setAttribute("role", "alert");
    document.getElementById("main").prepend(asked);
    asked.focus();
  });
}

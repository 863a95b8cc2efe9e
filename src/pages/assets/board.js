"use strict";
// Keeps the board up to date: the server says that it moved, the page fetches the new table.
{
  const live = document.getElementById("live");
  const board = document.getElementById("board");
  const pause = document.getElementById("pause");
  const state = document.getElementById("live-state");
  const said = document.getElementById("said");
  const { event, competition } = live.dataset;
  const query = competition ? `?competition=${competition}` : "";
  const STALE_MS = 60_000, SAY_EVERY_MS = 15_000;
  let stream = null, paused = false, waiting = false, heard = Date.now(), saidAt = 0;

  const show = async () => {
    if (paused || document.hidden) { waiting = true; return; }
    waiting = false;
    const answer = await fetch(`/events/${event}/board${query}`, { headers: { accept: "text/html" } });
    if (!answer.ok) return;
    const fresh = document.createElement("div");
    fresh.append(...new DOMParser().parseFromString(await answer.text(), "text/html").body.childNodes);
    const scrolled = board.querySelector(".wide")?.scrollLeft ?? 0;
    const focused = board.contains(document.activeElement) && document.activeElement.getAttribute("href");
    board.replaceChildren(...fresh.childNodes);
    const wide = board.querySelector(".wide");
    if (wide) wide.scrollLeft = scrolled;
    if (focused) board.querySelector(`a[href="${CSS.escape(focused)}"]`)?.focus({ preventScroll: true });
    if (Date.now() - saidAt >= SAY_EVERY_MS) {
      said.textContent = document.getElementById("as-of").textContent;
      saidAt = Date.now();
    }
  };

  const open = () => {
    stream = new EventSource(`/api/v1/events/${event}/board/stream${query}`);
    let first = true;
    stream.addEventListener("board", () => {
      heard = Date.now();
      state.textContent = paused ? "Paused" : "Live";
      if (!first) show();
      first = false;
    });
    stream.addEventListener("bye", close);
    stream.onerror = () => { state.textContent = "Not connected; trying again"; };
  };
  const close = () => { stream?.close(); stream = null; };

  pause.addEventListener("click", () => {
    paused = !paused;
    pause.textContent = paused ? "Go on" : "Pause";
    pause.setAttribute("aria-pressed", String(paused));
    state.textContent = paused ? "Paused" : "Live";
    if (!paused && waiting) show();
  });
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) return close();
    if (!stream) open();
    show();
  });
  setInterval(() => {
    // Browsers give a stream up that was refused, and it is refused to whoever has too many open.
    if (stream?.readyState === EventSource.CLOSED && !document.hidden) open();
    if (stream?.readyState !== EventSource.OPEN && Date.now() - heard > STALE_MS) state.textContent = "Out of date";
  }, 5_000);
  live.hidden = false;
  open();
}

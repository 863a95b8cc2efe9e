// A screen in the clubroom goes on to the next rows by itself. Any key or tap holds it, the next one lets it go on.
"use strict";

const screen = document.getElementById("screen");
const held = document.getElementById("held");
let timer = null;

function goOn() {
  timer = setTimeout(() => location.replace(screen.dataset.next), Number(screen.dataset.seconds) * 1000);
  held.textContent = "";
}

function toggle(event) {
  if (event.target instanceof Element && event.target.closest("a")) return;
  if (timer === null) {
    goOn();
    return;
  }
  clearTimeout(timer);
  timer = null;
  held.textContent = "Held. Any key or tap goes on.";
}

goOn();
addEventListener("keydown", toggle);
addEventListener("pointerdown", toggle);

"use strict";
// The link of an invitation goes to the clipboard; where the browser refuses that, it is selected for copying by hand.
{
  const link = document.getElementById("link");
  const copy = document.getElementById("copy");
  const copied = document.getElementById("copied");
  link.addEventListener("focus", () => link.select());
  copy.addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(link.value);
      copied.textContent = "Copied.";
    } catch {
      link.focus();
      copied.textContent = "Not copied: copy the selected link by hand.";
    }
  });
  copy.hidden = false;
}

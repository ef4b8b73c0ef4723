// The logbook under a thumb: what a press opens has the keyboard at once, the clock of the press goes
// with an entry whose time was left open, and Undo goes after its minute. Without this script all of
// it works, a press later.
"use strict";
for (const kind of document.querySelectorAll("details.kind")) {
  kind.addEventListener("toggle", () => {
    if (!kind.open) return;
    const field = kind.querySelector(".field :is(input:not([type='hidden']), select)");
    if (field && field.checkVisibility()) field.focus({ preventScroll: true });
    kind.scrollIntoView({ block: "nearest" });
  });
}
for (const undo of document.querySelectorAll("[data-for-s]")) {
  setTimeout(() => { undo.hidden = true; }, 1000 * Number(undo.dataset.forS));
}

// The logbook under a thumb: what a press opens has the keyboard at once, and Undo goes after its
// minute. Without this script all of it works, a press later.
"use strict";
for (const kind of document.querySelectorAll("details.kind, .check > details")) {
  kind.firstElementChild.addEventListener("click", (event) => {
    if (kind.open) return;
    // opened here and not by the browser afterwards: phones show their keys only within the press
    event.preventDefault();
    kind.open = true;
    const fields = kind.querySelectorAll(".field :is(input:not([type='hidden']), select)");
    const first = [...fields].find((field) => field.checkVisibility());
    if (first) first.focus({ preventScroll: true });
    kind.scrollIntoView({ block: "nearest" });
  });
}
for (const undo of document.querySelectorAll("[data-for-s]")) {
  setTimeout(() => { undo.hidden = true; }, 1000 * Number(undo.dataset.forS));
}

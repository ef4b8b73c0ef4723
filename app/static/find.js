// Folds the groups of the Site page, and finds inputs by any words of theirs. Without this script
// every group stands open and the browser's own search finds them.
"use strict";
const box = document.querySelector("[data-find]");
const groups = [...document.querySelectorAll("details.group")];
const fields = groups.flatMap((group) => [...group.querySelectorAll(".field")]);
const leading = [...document.querySelectorAll("#leading .field")];
const words = new Map(
  [...fields, ...leading].map((field) => {
    const group = field.closest(".part").querySelector("h2").textContent;
    const control = field.querySelector("[name]");
    const text = `${field.textContent} ${group} ${control ? control.name.replaceAll("_", " ") : ""}`;
    return [field, text.toLowerCase()];
  })
);
const told = document.getElementById("found");
const reach = () => {
  const goal = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
  if (!goal) return;
  const group = goal.closest("details.group") || goal.querySelector("details.group");
  if (group) group.open = true;
  goal.scrollIntoView();
};
const fold = () => {
  groups.forEach((group) => { group.open = group.querySelector(".wrong, .done") !== null; });
};
const find = () => {
  const sought = box.value.toLowerCase().split(/\s+/).filter(Boolean);
  let count = 0;
  words.forEach((text, field) => {
    const fits = sought.every((word) => text.includes(word));
    field.hidden = !fits;
    if (fits) count += 1;
  });
  groups.forEach((group) => {
    const any = group.querySelector(".field:not([hidden])") !== null;
    group.closest(".part").hidden = sought.length > 0 && !any;
    if (sought.length > 0) group.open = any;
  });
  if (sought.length === 0) fold();
  told.textContent = sought.length === 0 ? "" : count === 0 ? box.dataset.none : box.dataset.found.replace("{count}", count);
};
if (box) {
  box.closest(".find").hidden = false;
  fold();
  reach();
  window.addEventListener("hashchange", reach);
  box.addEventListener("input", find);
  box.addEventListener("keydown", (event) => {
    if (event.key === "Escape") {
      box.value = "";
      find();
    }
    if (event.key !== "Enter") return;
    event.preventDefault();
    const first = [...words.keys()].find((field) => !field.hidden);
    const control = first && first.querySelector("input:not([type=hidden]), select");
    if (control) control.focus();
  });
}

// What an hour of a chart says, on hover, touch and by arrow keys. Without this script the
// browser's own tooltips say the same, and the table below the charts says it in full.
"use strict";
const mark = (chart) => {
  const hours = [...chart.querySelectorAll(".hour")];
  if (hours.length === 0) return;
  const texts = hours.map((hour) => {
    const title = hour.querySelector("title");
    const text = title ? title.textContent : "";
    if (title) title.remove();
    return text;
  });
  const box = document.createElement("p");
  box.className = "says-now";
  box.setAttribute("role", "status");
  box.hidden = true;
  chart.after(box);
  chart.setAttribute("tabindex", "0");
  let current = -1;
  const show = (index) => {
    if (current >= 0) hours[current].classList.remove("now");
    current = index;
    box.hidden = index < 0;
    if (index < 0) return;
    hours[index].classList.add("now");
    box.textContent = texts[index];
    box.classList.toggle("left", index >= hours.length / 2);
  };
  hours.forEach((hour, index) => {
    hour.addEventListener("pointerenter", () => show(index));
    hour.addEventListener("pointerdown", () => show(index));
  });
  chart.addEventListener("pointerleave", (event) => {
    if (event.pointerType === "mouse") show(-1);
  });
  chart.addEventListener("blur", () => show(-1));
  chart.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (step) {
      event.preventDefault();
      show(Math.min(hours.length - 1, Math.max(0, current + step)));
    } else if (event.key === "Escape") {
      show(-1);
    }
  });
};
const markAll = (within) => within.querySelectorAll("figure > svg.chart").forEach(mark);
markAll(document);
// charts that were put in place later
document.addEventListener("drawn", (event) => markAll(event.target));

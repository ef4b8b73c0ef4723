// Try a change: each move asks for new figures, then for new charts, while the old ones stay dim.
// Questions are numbered; whatever answers another than the last one is thrown away. Without this
// script the form's button asks for the whole page.
"use strict";
(() => {
  const form = document.getElementById("try-form");
  if (!form) return;
  const says = document.getElementById("try-says");
  const regions = [...document.querySelectorAll("[data-from]")];
  const PAUSE_MS = 60; // a slider that is being dragged speaks more often than anybody can read
  let number = 0;
  let asking = null;
  let timer = 0;

  const dim = (late) => {
    for (const region of regions) {
      if (!late.includes(region.id)) region.removeAttribute("aria-busy");
      else region.setAttribute("aria-busy", "true");
    }
  };

  // What is wrong stands beside its field; what was typed stays as it is.
  const tell = (messages) => {
    for (const place of form.querySelectorAll(".says")) {
      const id = place.id.replace(/-e$/, "");
      const text = messages.get(id) || "";
      const input = document.getElementById(id);
      place.textContent = text;
      place.hidden = !text;
      place.closest(".field").classList.toggle("wrong", Boolean(text));
      if (text) input.setAttribute("aria-invalid", "true");
      else input.removeAttribute("aria-invalid");
    }
  };

  const part = async (name, asked, signal) => {
    const query = new URLSearchParams(new FormData(form));
    query.set("n", asked);
    const answer = await fetch(`${document.getElementById(name).dataset.from}?${query}`, { signal });
    if (!answer.ok && answer.status !== 422) throw new Error(String(answer.status));
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const found = page.querySelector("[data-n]");
    if (!found) throw new Error("no part");
    return asked === number && found.dataset.n === String(asked) ? found : null;
  };

  const place = (found) => {
    for (const piece of found.querySelectorAll("[data-for]")) {
      const region = document.getElementById(piece.dataset.for);
      region.replaceChildren(...piece.childNodes);
      region.dispatchEvent(new CustomEvent("drawn", { bubbles: true }));
    }
  };

  const ask = async () => {
    window.clearTimeout(timer);
    if (asking) asking.abort();
    asking = new AbortController();
    const asked = ++number;
    const { signal } = asking;
    try {
      dim(["try-figures", "try-charts"]);
      const figures = await part("try-figures", asked, signal);
      if (!figures) return;
      const wrong = new Map(
        [...figures.querySelectorAll("[data-field]")].map((row) => [row.dataset.field, row.textContent]),
      );
      tell(wrong);
      if (wrong.size > 0) {
        says.textContent = form.dataset.refused;
        return; // the older figures stay dim
      }
      place(figures);
      dim(["try-charts"]);
      const charts = await part("try-charts", asked, signal);
      if (!charts) return;
      place(charts);
      dim([]);
    } catch (fault) {
      if (asked !== number || fault.name === "AbortError") return;
      says.textContent = form.dataset.failed;
    }
  };

  const soon = () => {
    dim(["try-figures", "try-charts"]);
    if (asking) asking.abort();
    number += 1; // an answer that is still on its way is late from now on
    window.clearTimeout(timer);
    timer = window.setTimeout(ask, PAUSE_MS);
  };

  const spoken = (slider) => {
    const unit = slider.dataset.unit;
    const text = document.getElementById(slider.dataset.moves).value;
    slider.setAttribute("aria-valuetext", unit ? `${text} ${unit}` : text);
  };

  // The rows of a timetable move together, none below what the field allows.
  const shifted = (rows, by, least) =>
    rows
      .split(";")
      .map((row) =>
        row.replace(/(\d+(?:\.\d+)?)\s*$/, (amount) => String(Math.max(least, Number(amount) + by))),
      )
      .join(";");

  for (const slider of form.querySelectorAll("input[type=range]")) {
    const text = document.getElementById(slider.dataset.moves);
    const isTimetable = "shift" in slider.dataset;
    let rows = text.value;
    slider.hidden = false;
    spoken(slider);
    slider.addEventListener("input", () => {
      const decimals = (slider.step.split(".")[1] || "").length;
      const value = Number(slider.value);
      const sign = "signed" in slider.dataset && value >= 0 ? "+" : "";
      text.value = isTimetable
        ? shifted(rows, value, Number(slider.dataset.shift))
        : sign + value.toFixed(decimals);
      spoken(slider);
    });
    text.addEventListener("input", () => {
      const value = Number(text.value.replace("\u2212", "-"));
      if (isTimetable) {
        rows = text.value;
        slider.value = 0;
      } else if (text.value.trim() && Number.isFinite(value)) {
        slider.value = value;
      }
      spoken(slider);
    });
  }
  form.querySelector(".acts").hidden = true;
  form.addEventListener("input", soon);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    ask();
  });
  // What every change is compared with is computed when the part comes into view.
  const watcher = new IntersectionObserver((entries) => {
    if (!entries.some((entry) => entry.isIntersecting)) return;
    watcher.disconnect();
    if (number === 0) part("try-figures", 0, undefined).catch(() => {});
  });
  watcher.observe(form);
})();

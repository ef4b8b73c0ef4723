// Hours drawn by finger or mouse over fields of numbers, which stay the truth: what is drawn is
// written into them, and what is typed in them is drawn. Without this script they are typed.
"use strict";
const HIGH = 120;
const FOOT = 22;
const LEAST = 10;
const MOST = 5000;
const make = (name, given, parent) => {
  const shape = document.createElementNS("http://www.w3.org/2000/svg", name);
  Object.entries(given).forEach(([key, value]) => shape.setAttribute(key, value));
  parent.append(shape);
  return shape;
};
const boxes = [...document.querySelectorAll("[data-draws]")].map((box) => ({
  box,
  field: document.getElementById(box.dataset.draws),
  total: document.getElementById(box.dataset.total),
  picture: make("svg", { height: HIGH + FOOT, "aria-hidden": "true" }, box.querySelector("div")),
  told: box.querySelector("output"),
  held: -1,
}));
let highest = LEAST;
const carsOf = (one) => {
  const cells = one.field.value.trim().split(/\s+/);
  return cells.length > 1 && cells.every((cell) => /^\d{1,4}$/.test(cell)) ? cells.map(Number) : null;
};
const draw = (one) => {
  const cars = carsOf(one);
  one.box.hidden = cars === null;
  one.picture.replaceChildren();
  if (cars === null) return;
  const wide = 100 / cars.length;
  cars.forEach((count, at) => {
    const high = HIGH * Math.min(1, count / highest);
    make("rect", { class: "bar", x: `${at * wide + 0.1 * wide}%`, y: HIGH - high, width: `${0.8 * wide}%`, height: high }, one.picture);
    if (at % 3 === 0 && at < cars.length - 2) make("text", { x: `${at * wide}%`, y: HIGH + FOOT - 5 }, one.picture).textContent = `${Number(one.box.dataset.from) + at}:00`;
  });
  make("line", { class: "floor", x1: 0, x2: "100%", y1: HIGH, y2: HIGH }, one.picture);
  const all = cars.reduce((sum, count) => sum + count, 0);
  one.told.textContent = one.box.dataset.says.replace("{count}", all.toLocaleString("en-US"));
};
const drawAll = () => {
  if (boxes.every((one) => one.held < 0)) {
    highest = Math.max(LEAST, ...boxes.map((one) => 1.25 * Math.max(...(carsOf(one) || [0]))));
  }
  boxes.forEach(draw);
  const stale = document.querySelector("[data-drawn-before]");
  if (stale) stale.hidden = boxes.some((one) => !one.box.hidden);
};
const write = (one, event) => {
  const cars = carsOf(one);
  if (cars === null) return;
  const place = one.picture.getBoundingClientRect();
  const share = (event.clientX - place.left) / place.width;
  const at = Math.min(cars.length - 1, Math.max(0, Math.floor(share * cars.length)));
  const count = Math.round(highest * Math.min(1, Math.max(0, 1 - (event.clientY - place.top) / HIGH)));
  const from = one.held < 0 ? at : one.held;
  const before = one.held < 0 ? count : cars[from];
  const steps = Math.abs(at - from);
  // a quick stroke skips hours: those between lie on a line
  for (let step = steps ? 1 : 0; step <= steps; step += 1) {
    const of = steps ? step / steps : 1;
    cars[from + Math.sign(at - from) * step] = Math.min(MOST, Math.round(before + of * (count - before)));
  }
  one.held = at;
  one.field.value = cars.join(" ");
  one.total.value = String(cars.reduce((sum, of) => sum + of, 0));
  drawAll();
};
boxes.forEach((one) => {
  one.field.addEventListener("input", drawAll);
  one.picture.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    one.picture.setPointerCapture(event.pointerId);
    write(one, event);
  });
  one.picture.addEventListener("pointermove", (event) => {
    if (one.held >= 0) write(one, event);
  });
  ["pointerup", "pointercancel"].forEach((name) => one.picture.addEventListener(name, () => {
    one.held = -1;
    drawAll();
  }));
});
drawAll();

// Plays a simulated day on the pictures that came with the page. Where every car is follows from the
// day's own times, which come as whole numbers; nothing is guessed between them but how a car drives
// up: to the belt, and from one waiting place to the next. Without this script the still pictures and
// the words say the same.
"use strict";
(async () => {
  const part = document.getElementById("watch");
  const [STACK, LANE, LINE, LOADING, BELT, STANDS, DRIED] = [1, 2, 3, 4, 5, 6, 7];
  const [DAMP, LEAVES_DAMP, AGAIN, ROUND] = [1, 2, 4, 8];
  const HOUR = 36000;
  // how long a car takes to drive up to a waiting place: longer the faster the day is played, so that
  // it can be seen, and so long at most
  const [GLIDES, AT_LEAST, AT_MOST] = [0.2, 50, 600];
  const LEAVES = { [STACK]: STACK, [LINE]: LINE, [STANDS]: DRIED }; // which of its times ends a wait
  const stills = document.getElementById("stills").closest("details");
  const offer = (isThere) => {
    part.hidden = !isThere;
    stills.open = !isThere;
  };
  offer(true); // its pictures are there already
  let sent;
  try {
    const answer = await fetch(part.dataset.series);
    if (!answer.ok) return offer(false);
    sent = await answer.json();
  } catch {
    return offer(false);
  }

  // ---- the day

  const pairs = (steps) => {
    const found = { at: [], value: [] };
    let [at, value] = [0, 0];
    for (let n = 0; n < steps.length; n += 2) {
      at += steps[n];
      value += steps[n + 1];
      found.at.push(at);
      found.value.push(value);
    }
    return found;
  };
  const between = ({ at, value }, moment) => {
    const after = at.findIndex((one) => one > moment);
    if (after < 0) return value[value.length - 1];
    if (after === 0) return value[0];
    const share = (moment - at[after - 1]) / (at[after] - at[after - 1]);
    return value[after - 1] + (value[after] - value[after - 1]) * share;
  };
  const stands = ({ at, value }, moment) => {
    const after = at.findIndex((one) => one > moment);
    return after > 0 && value[after - 1] === value[after];
  };
  const carsOf = (rows) => {
    let joins = 0;
    return rows.map((row, number) => {
      joins += row[0];
      if (row.length === 1) return { number, times: Array(8).fill(joins), isLost: true, said: 0 };
      const times = [joins];
      for (const step of row.slice(1, 8)) times.push(times[times.length - 1] + step);
      const [wheel, lane, length, pushed, wiping, said] = row.slice(8);
      return { number, times, wheel: times[LOADING] + wheel, lane, length, pushed, wiping, said };
    });
  };
  const days = sent.days.map((day) => ({
    ...day,
    travel: pairs(day.travel),
    wet: pairs(day.wet),
    cars: carsOf(day.cars),
  }));
  const whereOf = (car, at) => {
    let passed = 0;
    while (passed < 8 && car.times[passed] <= at) passed += 1;
    return passed;
  };
  const by = (time) => (one, other) => one.times[time] - other.times[time] || one.number - other.number;
  const momentOf = (day, at, glide) => {
    const there = [[], [], [], [], [], [], [], []];
    const gone = { [STACK]: [], [LINE]: [], [STANDS]: [] };
    const one = { at, glide, there, gone, isStopped: stands(day.travel, at), wiping: 0, wet: Math.round(between(day.wet, at)), washed: 0, damp: 0, lost: 0 };
    let last = -1;
    for (const car of day.cars) {
      if (car.times[0] > at) break;
      const where = whereOf(car, at);
      if (car.isLost) one.lost += 1;
      else {
        if (where > BELT && !(car.said & ROUND)) one.washed += 1;
        if (where > DRIED && car.said & LEAVES_DAMP) one.damp += 1;
        if (car.wheel <= at && car.wheel >= last) [last, one.wiping] = [car.wheel, car.wiping];
      }
      if (where >= STACK && where <= DRIED) there[where].push(car);
      if (car.isLost) continue;
      for (const from of [STACK, LINE, STANDS]) {
        const left = car.times[LEAVES[from]];
        if (left <= at && at - left < glide && left > car.times[from - 1]) gone[from].push(car);
      }
    }
    const again = (car) => (car.said & AGAIN ? 0 : 1);
    there[STACK].sort((a, b) => again(a) - again(b) || a.number - b.number);
    for (const where of [LINE, BELT, STANDS, DRIED]) there[where].sort(by(where - 1));
    return one;
  };

  // ---- the drawing

  const make = (name, parent) => {
    const shape = document.createElementNS("http://www.w3.org/2000/svg", name);
    parent.append(shape);
    return shape;
  };
  const put = (shape, given) => {
    for (const [key, value] of Object.entries(given)) shape.setAttribute(key, value);
  };
  const percent = (value) => `${value.toFixed(2)}%`;
  const clock = (at) => {
    const minutes = Math.floor(at / 600);
    return `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}`;
  };
  const fill = (text, given) => text.replace(/\{(\w+)\}/g, (_gap, name) => given[name]);
  const whole = (count) => count.toLocaleString("en-US");

  const playerOf = (figure, number) => {
    const svg = figure.querySelector("svg");
    const stage = sent.stages[number];
    const fixed = svg.querySelector("g");
    const limits = [...svg.querySelectorAll(":scope > .limit")];
    svg.replaceChildren(fixed);
    svg.removeAttribute("role");
    svg.removeAttribute("aria-label");
    svg.setAttribute("aria-hidden", "true");
    const wet = stage.strips.map(() => make("rect", svg));
    const bar = make("line", svg);
    svg.append(...limits);
    const cars = make("g", svg);
    const named = Object.keys(sent.here).map((where) => [Number(where), make("text", svg)]);
    const strips = make("text", svg);
    const first = stage.strips[0];
    const end = stage.strips[stage.strips.length - 1][1];
    for (const [where, text] of named) {
      const [x, y] = stage.words[where];
      put(text, { x: percent(x), y, "text-anchor": where === STANDS ? "end" : "start" });
    }
    put(strips, { x: percent(first[0] - 1.5), y: first[2] + 10, "text-anchor": "end" });
    return { day: days[number], stage, wet, bar, cars, named, strips, first, end, says: figure.querySelector("[role=status]"), told: "" };
  };
  const players = [...part.querySelectorAll("[data-plays]")].map(playerOf);

  const across = ({ belt, first, last }, cm) => {
    const held = Math.min(Math.max(cm, first), last);
    return belt[0] + ((belt[1] - belt[0]) * (held - first)) / (last - first);
  };
  const noseOf = (day, car, at, where, stage) => {
    const [start, caught] = [car.times[LOADING - 1], car.times[LOADING]];
    if (where === LOADING) return car.pushed - (stage.glide * (caught - at)) / (caught - start);
    return car.pushed + between(day.travel, at) - between(day.travel, caught);
  };
  const toward = (from, to, share) => [0, 1].map((of) => from[of] + (to[of] - from[of]) * share);
  // the place of a car in a line of waiting ones: behind it by what it has yet to drive up since cars
  // ahead of it left
  const placeIn = (stage, { at, glide, gone }, car, where, number) => {
    const places = stage.places[where];
    if (!places[number]) return undefined;
    const ahead = gone[where].filter((other) => other.times[where - 1] <= car.times[where - 1]
      && other.times[LEAVES[where]] > car.times[where - 1]);
    const behind = ahead.reduce((sum, other) => sum + 1 - (at - other.times[LEAVES[where]]) / glide, 0);
    const held = Math.min(number + behind, places.length - 1);
    const [low, high] = [places[Math.floor(held)], places[Math.ceil(held)]];
    return toward(low, high, held - Math.floor(held));
  };
  // a car that has just come to wait somewhere drives there from where it was before
  const drivenUp = (stage, { at, glide }, car, place, where) => {
    const came = car.times[(where === DRIED ? STANDS : where) - 1];
    if (at - came >= glide) return place;
    const paid = stage.places[LANE][car.lane];
    const before = {
      // the first row is come to from the right, further ones from below: nobody drives over others
      [STACK]: place[1] > stage.places[STACK][0][1] ? [place[0], place[1] + stage.car[1]] : [100 - stage.car[0], place[1]],
      [LANE]: stage.places[STACK][0],
      [LINE]: paid || stage.places[STACK][0],
      [STANDS]: [stage.belt[1], place[1]],
    };
    return toward(before[where === DRIED ? STANDS : where] || place, place, (at - came) / glide);
  };
  const boxesOf = ({ day, stage }, one) => {
    const found = [];
    const stand = (car, place, where) => {
      if (!place) return;
      const [x, y] = drivenUp(stage, one, car, place, where);
      found.push({ car, where, x, wide: stage.car[0], y, high: stage.car[1] });
    };
    for (const where of [LINE, STACK]) {
      one.there[where].forEach((car, at) => stand(car, placeIn(stage, one, car, where, at), where));
    }
    one.there[LANE].forEach((car) => stand(car, stage.places[LANE][car.lane], LANE));
    [...one.there[DRIED].map((car) => [car, DRIED]), ...one.there[STANDS].map((car) => [car, STANDS])].forEach(
      ([car, where], at) => stand(car, placeIn(stage, one, car, STANDS, at), where)
    );
    let tail = stage.last;
    for (const where of [BELT, LOADING]) {
      for (const car of one.there[where]) {
        const free = noseOf(day, car, one.at, where, stage);
        const nose = where === BELT ? free : Math.min(free, tail - stage.apart);
        tail = Math.min(tail, nose - car.length);
        const [left, right] = [across(stage, nose - car.length), across(stage, nose)];
        if (right <= left) continue;
        const [y, high] = [stage.belt[2] + 4, stage.belt[3] - stage.belt[2] - 8];
        found.push({ car, where, nose, x: left, wide: right - left, y, high });
      }
    }
    return found;
  };
  const kindOf = ({ car, where }, at) =>
    [
      "car",
      car.said & DAMP && at >= car.wheel ? "damp" : "",
      where === DRIED ? "tended" : "",
      car.said & AGAIN ? "again" : "",
    ].filter(Boolean).join(" ");

  const drawCars = (player, one) => {
    const boxes = boxesOf(player, one);
    while (player.cars.childElementCount < boxes.length) make("rect", player.cars);
    [...player.cars.children].forEach((shape, at) => {
      const box = boxes[at];
      shape.toggleAttribute("hidden", !box);
      if (!box) return;
      put(shape, { class: kindOf(box, one.at), x: percent(box.x), width: percent(box.wide), y: box.y, height: box.high });
      shape.dataset.car = box.car.number;
      shape.dataset.where = box.where;
      if (box.where === BELT) shape.dataset.nose = box.nose.toFixed(1);
      else delete shape.dataset.nose;
    });
  };
  const drawWheel = ({ stage, wet, bar, strips, first, end }, one) => {
    const share = Math.min(one.wet, 1000) / 1000;
    wet.forEach((shape, at) => {
      const [left, right, top, foot] = stage.strips[at];
      const high = (foot - top) * share;
      put(shape, { class: "wet", x: percent(left), width: percent(right - left), y: foot - high, height: high });
    });
    const kind = ["", "whole", "less", ""][one.wiping];
    put(bar, { class: kind, x1: percent(first[0]), x2: percent(end), y1: first[2] - 8, y2: first[2] - 8 });
    strips.textContent = fill(sent.strips, { wet: `${Math.round(one.wet / 10)}\u00a0%` });
  };
  const sayAt = (player, one) => {
    const count = (...places) => places.reduce((sum, where) => sum + one.there[where].length, 0);
    const exit = count(STANDS, DRIED);
    for (const [where, text] of player.named) {
      const says = where === BELT && one.isStopped ? sent.stopped : sent.here[where];
      text.textContent = fill(says, { count: where === STANDS ? exit : count(where) });
    }
    const said = fill(sent.said, {
      time: clock(one.at),
      before: count(STACK, LANE, LINE, LOADING),
      belt: fill(sent.riding[Number(one.isStopped)], { count: count(BELT) }),
      exit,
      wet: `${Math.round(one.wet / 10)}\u00a0%`,
      wiping: sent.wiping[one.wiping],
      washed: whole(one.washed),
      damp: whole(one.damp),
      lost: whole(one.lost),
    });
    if (said !== player.told) player.says.textContent = said;
    player.told = said;
  };

  // ---- time

  const slider = document.getElementById("in-clock");
  const shown = part.querySelector("output");
  const hours = document.getElementById("in-hour");
  const speed = document.getElementById("in-speed");
  const button = part.querySelector("[data-play]");
  const [opens, ends] = [Number(slider.min), Number(slider.max)];
  const less = window.matchMedia("(prefers-reduced-motion: reduce)");
  let at = Number(part.dataset.begins);
  let isPlaying = false;
  let before = 0;

  const show = () => {
    // who looks at one moment sees each car in its place, as the still pictures have it
    const glide = isPlaying ? Math.min(AT_MOST, Math.max(AT_LEAST, GLIDES * Number(speed.value))) : 0;
    for (const player of players) {
      const one = momentOf(player.day, at, glide);
      drawCars(player, one);
      drawWheel(player, one);
      sayAt(player, one);
    }
    slider.value = String(at);
    slider.setAttribute("aria-valuetext", clock(at));
    shown.textContent = clock(at);
    part.dataset.at = String(Math.round(at));
  };
  const go = (moment) => {
    at = Math.min(Math.max(moment, opens), ends);
    show();
  };
  const step = (now) => {
    if (!isPlaying) return;
    // a window that was away goes on where it was
    go(at + Number(speed.value) * Math.min(0.25, (now - before) / 1000));
    before = now;
    if (at >= ends) play(false);
    else window.requestAnimationFrame(step);
  };
  const play = (isOn) => {
    isPlaying = isOn && !less.matches;
    button.textContent = isPlaying ? button.dataset.pause : button.dataset.play;
    // nobody is read to sixty times a second: what is said is told when the day stands
    for (const { says } of players) says.setAttribute("aria-live", isPlaying ? "off" : "polite");
    if (!isPlaying) return;
    if (at >= ends) go(opens);
    before = performance.now();
    window.requestAnimationFrame(step);
  };
  const heed = () => {
    if (less.matches) play(false);
    button.hidden = less.matches;
    part.querySelector("[data-speed]").hidden = less.matches;
    part.querySelector("[data-still]").hidden = !less.matches;
  };

  for (let hour = Math.ceil(opens / HOUR); hour * HOUR <= ends; hour += 1) {
    hours.add(new Option(clock(hour * HOUR), String(hour * HOUR)));
  }
  hours.value = String(HOUR * Math.floor(at / HOUR));
  hours.addEventListener("change", () => go(Number(hours.value)));
  slider.addEventListener("input", () => {
    play(false);
    go(Number(slider.value));
  });
  button.addEventListener("click", () => play(!isPlaying));
  part.addEventListener("keydown", (event) => {
    if (event.key !== " " || event.target.matches("button, select, summary")) return;
    event.preventDefault();
    play(!isPlaying);
  });
  less.addEventListener("change", heed);
  window.addEventListener("beforeprint", () => play(false));
  heed();
  show();
})();

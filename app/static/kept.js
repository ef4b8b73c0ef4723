// What is entered in the logbook is kept on the phone first, then sent, once: by its key it is the
// same entry however often it is tried. Until it has arrived it stands on top of the page. Without
// this script, or where a page may keep nothing (no HTTPS), forms are sent as anywhere.
"use strict";
(() => {
  const part = document.getElementById("kept");
  if (!part || !window.isSecureContext || !navigator.serviceWorker || !navigator.locks) return;
  const { page, here, token, worker, zone } = part.dataset;
  const words = part.dataset;
  const list = part.querySelector("ul");
  const away = part.querySelector("[data-away]");
  const status = part.querySelector("[role=status]");
  const dayField = part.querySelector("input[type=date]");
  const queue = self.clothcastQueue(page, token);
  const { all, change, drop, entries, keep } = queue;
  const AGAIN_MS = 15000;
  const TWICE_MS = 1000; // the same once more within this is a thumb that trembled
  let isReached = true;
  let last = { said: "", at: 0 };
  let timer = 0;

  // Sends what waits; returns what stood against it.
  const flush = async () => {
    const found = await queue.flush();
    isReached = found.isReached;
    return found.problem;
  };

  // Where the browser can, it sends by itself once there is network, this page being closed or not.
  const sendLater = async () => {
    const registration = await navigator.serviceWorker.getRegistration(page);
    await registration?.sync?.register("send");
  };

  // ---- forms

  const ours = () =>
    [...document.forms].filter(
      (form) => form.method === "post" && form.getAttribute("action") === page
    );
  const field = (form, name) => form.querySelector(`input[type=hidden][name="${name}"]`);

  // A page may be opened from the phone again and again, and a form be filled in again: each entry has
  // a key of its own. One that was refused keeps its key while it is corrected.
  const renew = (form, refused) => {
    const key = field(form, "key");
    const request = field(form, "request_key");
    const isFresh = field(form, "kind") && !field(form, "correct");
    if (key && isFresh && !refused.has(key.value)) {
      // entries of one minute stand in the order of their keys, which begin with the moment
      key.value = `${Date.now().toString(16).padStart(12, "0")}-${crypto.randomUUID()}`;
    }
    if (request) request.value = crypto.randomUUID();
  };
  const renewAll = async () => {
    const held = await entries().catch(() => []);
    const refused = held.filter((entry) => entry.state === "refused").map((entry) => entry.id);
    for (const form of ours()) renew(form, new Set(refused));
  };

  const pairsOf = (form, submitter) => {
    const pairs = [...new FormData(form)].filter(
      ([name, value]) => name !== "form_token" && typeof value === "string"
    );
    if (submitter && submitter.name) pairs.push([submitter.name, submitter.value]);
    return pairs;
  };
  const told = (node) => {
    const copy = node.cloneNode(true);
    for (const one of copy.querySelectorAll(".unseen")) one.remove();
    return copy.textContent.trim();
  };
  const labelOf = (form, submitter, pairs) => {
    const kind = form.closest("details.kind");
    const check = form.closest("[data-check]");
    const typed = pairs
      .filter(([name]) => !field(form, name) && !name.startsWith("was.") && name !== submitter?.name)
      .map(([, value]) => value);
    return [kind ? told(kind.querySelector("summary")) : "", check ? check.dataset.check : "", submitter?.name ? told(submitter) : "", ...typed]
      .filter(Boolean)
      .join(", ");
  };

  // Sent as any form is: the page that answers has what is wrong beside its field.
  const sendPlainly = (pairs, token) => {
    const form = document.createElement("form");
    form.method = "post";
    form.action = page;
    form.hidden = true;
    for (const [name, value] of [["form_token", token], ...pairs]) {
      const made = document.createElement("input");
      made.type = "hidden";
      made.name = name;
      made.value = value;
      form.append(made);
    }
    document.body.append(form);
    form.submit();
  };

  // ---- what the page shows

  const clock = new Intl.DateTimeFormat("en-GB", {
    timeZone: zone, hour: "2-digit", minute: "2-digit", hourCycle: "h23",
  });
  const button = (text, act) => {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = text;
    made.addEventListener("click", () => act(made));
    return made;
  };
  const lineOf = (entry) => {
    const made = document.createElement("li");
    made.dataset.state = entry.state;
    const typed = entry.pairs.find(([name]) => name === "at_s");
    const when = (typed && typed[1]) || clock.format(new Date(entry.at));
    const says = document.createElement("p");
    says.textContent = `${when} ${entry.label}`;
    const state = document.createElement("p");
    state.className = entry.state === "refused" ? "says" : "small";
    state.textContent = [words[entry.state], entry.problem].filter(Boolean).join(" ");
    made.append(says, state);
    if (entry.state === "arrived") return made;
    const acts = document.createElement("p");
    acts.className = "acts";
    if (entry.state === "refused") acts.append(button(words.correct, () => correct(entry)));
    acts.append(
      button(words.drop, (pressed) => {
        if (pressed.dataset.sure) return drop(entry.id).then(draw);
        pressed.dataset.sure = "yes";
        pressed.textContent = words.sure;
      })
    );
    made.append(acts);
    return made;
  };
  const noteOf = ({ text }) => {
    const made = document.createElement("li");
    made.dataset.state = "told";
    const says = document.createElement("p");
    says.textContent = text;
    const seen = () => change("told", (store) => store.delete(text)).then(draw);
    made.append(says, button(words.seen, seen));
    return made;
  };
  // Checks that are kept already stand there no longer.
  const showChecks = (held) => {
    const isOf = (entry) => entry.pairs.some(([name, value]) => name === "kind" && value === "check");
    const names = held.filter(isOf).flatMap((entry) =>
      entry.pairs.filter(([name]) => name === "name").map(([, value]) => value));
    for (const row of document.querySelectorAll("[data-check]")) {
      row.hidden = names.includes(row.dataset.check);
    }
    for (const form of document.querySelectorAll("form[data-checks]")) {
      const inputs = [...form.querySelectorAll("input[name=name]")];
      for (const input of inputs) input.disabled = names.includes(input.value);
      form.hidden = inputs.every((input) => input.disabled);
    }
  };
  const draw = async () => {
    const held = await entries();
    showChecks(held.filter((entry) => entry.state === "waiting"));
    const lines = held.reverse().map(lineOf);
    const notes = (await all("told")).map(noteOf);
    list.replaceChildren(...notes, ...lines);
    away.hidden = isReached;
    part.hidden = isReached && list.children.length === 0 && status.textContent === "";
    part.dataset.ready = "yes";
  };
  const say = (text) => {
    status.textContent = text;
  };

  const correct = async (entry) => {
    try {
      sendPlainly(entry.pairs, await queue.newToken());
    } catch (fault) {
      say(fault instanceof queue.Refused ? fault.message : words.later);
      await draw();
    }
  };

  // Somebody is typing: the page stays as it is until he is done.
  const isInUse = () =>
    ours().some((form) =>
      [...form.elements].some(
        (one) =>
          one.matches("input:not([type=hidden]), select, textarea") &&
          (one === document.activeElement || (one.matches("input, textarea") && one.value !== one.defaultValue))
      )
    );

  // ---- what is pressed, and what happens by itself

  const later = () => {
    clearTimeout(timer);
    timer = setTimeout(look, AGAIN_MS);
  };
  const look = async () => {
    const held = await entries();
    const had = (state) => held.filter((entry) => entry.state === state);
    const problem = await flush();
    const now = await entries();
    const isCopy = part.dataset.from === "phone";
    say(problem);
    if (isReached && !isCopy && had("waiting").length === 0) {
      // They stand in the list of the page; what was stored meanwhile is told by whoever stored it.
      for (const entry of had("arrived")) await drop(entry.id);
    }
    await draw();
    const isNews = had("waiting").length > 0 && now.some((entry) => entry.state === "arrived");
    if (isReached && !problem && (isCopy || isNews) && !isInUse()) return location.replace(here);
    if (!isReached || isCopy || now.some((entry) => entry.state === "waiting")) later();
  };

  const take = async (form, submitter) => {
    const pairs = pairsOf(form, submitter);
    const value = (name) => (pairs.find(([one]) => one === name) || ["", ""])[1];
    if (!isReached && dayField.value && field(form, "kind") && value("day") === "") {
      if (value("at_s") === "") {
        const asked = form.querySelector("[name=at_s]");
        if (asked) {
          asked.closest("details")?.setAttribute("open", "");
          asked.focus();
        }
        say(words.time);
        return draw();
      }
      pairs.find(([one]) => one === "day")[1] = dayField.value;
    }
    const isFresh = field(form, "kind") && !field(form, "correct");
    const entry = {
      id: isFresh ? value("key") : value("request_key"),
      at: Date.now(),
      pairs,
      label: labelOf(form, submitter, pairs),
      state: "waiting",
    };
    const said = JSON.stringify([entry.label, pairs.filter(([name]) => !name.endsWith("key"))]);
    if (said === last.said && entry.at - last.at < TWICE_MS) return;
    last = { said, at: entry.at };
    try {
      await keep(entry);
    } catch {
      return sendPlainly(pairs, field(form, "form_token").value); // the phone keeps nothing
    }
    // Kept: the form is free for the next entry, however long sending takes.
    form.reset();
    await renewAll();
    await draw();
    if (!isReached) status.scrollIntoView({ block: "nearest" });
    const problem = await flush();
    const found = (await entries()).find((one) => one.id === entry.id);
    if (found && found.state === "arrived") {
      await drop(entry.id);
      return location.assign(found.address);
    }
    if (found && found.state === "refused") return correct(found);
    if (navigator.storage?.persist) navigator.storage.persist();
    sendLater().catch(() => {});
    say([words.waiting, problem].filter(Boolean).join(" "));
    await draw();
    status.scrollIntoView({ block: "nearest" }); // what was pressed is said there
    return later();
  };

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!ours().includes(form)) return;
    event.preventDefault();
    take(form, event.submitter);
  });
  window.addEventListener("online", look);
  window.addEventListener("pageshow", (event) => {
    if (event.persisted) renewAll().then(look);
  });
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") look();
  });
  renewAll().then(look, () => {});
  for (const scope of words.copies.split(" ")) {
    const registered = navigator.serviceWorker.register(worker, { scope });
    registered.then(({ active }) => active?.postMessage("keep")).catch(() => {});
  }
})();

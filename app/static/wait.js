// A page that waits asks for its answer without being loaded again: what is said changes in place.
// Whoever reads keeps the folds that he opened, the keyboard stays where it is, and nothing that is
// being typed is taken away. Without this script the browser loads the whole page again.
"use strict";
(() => {
  const main = document.getElementById("main");
  let seconds = Number(document.currentScript.dataset.again);
  let isHeld = false;
  let known = main.cloneNode(true); // as it was sent: other scripts dress what they find

  const isElement = (node) => node.nodeType === Node.ELEMENT_NODE;
  const isControl = (node) => node.matches("input:not([type=hidden]), select, textarea");
  const wasChanged = (control) =>
    control.matches("select")
      ? [...control.options].some((one) => one.selected !== one.defaultSelected)
      : control.matches("[type=checkbox], [type=radio]")
        ? control.checked !== control.defaultChecked
        : control.value !== control.defaultValue;
  // Somebody is at work there: it stays as it is until he is done.
  const isInUse = (part) =>
    part.querySelector(":popover-open") !== null ||
    [...part.querySelectorAll("input:not([type=hidden]), select, textarea")].some(
      (control) => control === document.activeElement || wasChanged(control)
    );

  const copyAttributes = (old, fresh) => {
    const mine = old.matches("details") ? ["open"] : old.matches("[popover]") ? ["popover"] : [];
    for (const { name } of [...old.attributes]) {
      if (!fresh.hasAttribute(name) && !mine.includes(name)) old.removeAttribute(name);
    }
    for (const { name, value } of fresh.attributes) {
      if (old.getAttribute(name) !== value && !mine.includes(name)) old.setAttribute(name, value);
    }
  };

  const openAgain = (old, fresh) => {
    const open = [...old.querySelectorAll("details[open] > summary")].map((one) => one.textContent);
    for (const one of fresh.querySelectorAll("details > summary")) {
      if (open.includes(one.textContent)) one.parentElement.open = true;
    }
  };

  // A script that came with the answer runs once, as if the page had been loaded with it.
  const run = (script) => {
    const isThere = [...document.scripts].some((one) => one.src === script.src);
    if (isThere) return;
    const made = document.createElement("script");
    made.src = script.src;
    document.body.append(made);
  };

  // Puts a part of the answer where `place` says; returns it.
  const put = (fresh, place) => {
    const part = document.importNode(fresh, true);
    const scripts = isElement(part) ? [...part.querySelectorAll("script[src]")] : [];
    for (const one of scripts) one.remove();
    place(part);
    scripts.forEach(run);
    if (isElement(part)) part.dispatchEvent(new CustomEvent("drawn", { bubbles: true }));
    return part;
  };

  // Makes what stands there say what the answer says; returns what stands there then.
  const settle = (old, fresh) => {
    const inPlace = (part) => old.replaceWith(part);
    if (old.nodeName !== fresh.nodeName) return put(fresh, inPlace);
    if (!isElement(old)) {
      if (old.data !== fresh.data) old.data = fresh.data;
      return old;
    }
    if (isControl(old) || old.matches("script")) return old;
    if (old.matches("svg")) return old.isEqualNode(fresh) ? old : put(fresh, inPlace);
    if (old.childNodes.length !== fresh.childNodes.length) {
      if (isInUse(old)) {
        isHeld = true;
        return old;
      }
      openAgain(old, fresh);
      return put(fresh, inPlace);
    }
    copyAttributes(old, fresh);
    [...old.childNodes].forEach((child, place) => settle(child, fresh.childNodes[place]));
    return old;
  };

  const keyOf = (part) => {
    const head = part.querySelector("h1, h2");
    const from = part.getAttribute("href") || part.getAttribute("src") || "";
    return `${part.nodeName} ${part.id} ${from} ${head ? head.textContent : ""}`;
  };

  // What a part says, but for the keys of its forms, which are others each time.
  const said = (part) => {
    const copy = part.cloneNode(true);
    for (const one of copy.querySelectorAll("input[type=hidden]")) one.removeAttribute("value");
    return copy;
  };
  const isNews = (part) => {
    const before = [...known.children].find((one) => keyOf(one) === keyOf(part));
    return !before || !said(before).isEqualNode(said(part));
  };

  // Parts that both have stay where they are, new ones come between them, others go.
  const settleParts = (fresh) => {
    const parts = [...main.children];
    let next = 0;
    const pairs = [...fresh.children].map((part) => {
      const at = parts.findIndex((old, place) => place >= next && keyOf(old) === keyOf(part));
      if (at >= 0) next = at + 1;
      return [at < 0 ? null : parts[at], part];
    });
    const kept = new Set(pairs.map(([old]) => old));
    for (const old of parts) {
      if (kept.has(old)) continue;
      if (isInUse(old)) isHeld = true;
      else old.remove();
    }
    let before = null;
    for (const [old, part] of pairs.reverse()) {
      if (old) before = isNews(part) ? settle(old, part) : old;
      else if (part.matches("script")) run(part);
      else before = put(part, (made) => main.insertBefore(made, before));
    }
  };

  // The meanings of words stand behind everything else.
  const settleMeanings = (fresh) => {
    const old = document.querySelector("aside.meanings");
    if (old && isInUse(old)) isHeld = true;
    else if (old && fresh) old.replaceWith(document.importNode(fresh, true));
    else if (fresh) document.body.append(document.importNode(fresh, true));
  };

  const later = () => window.setTimeout(ask, seconds * 1000);

  const ask = async () => {
    if (document.visibilityState === "hidden") return later();
    let found;
    try {
      const answer = await fetch(location.href.split("#")[0]);
      if (answer.redirected) return location.replace(answer.url);
      if (answer.status >= 500) return later();
      found = new DOMParser().parseFromString(await answer.text(), "text/html");
    } catch {
      return later(); // the server is away for a moment
    }
    const fresh = found.getElementById("main");
    if (!fresh) return later();
    isHeld = false;
    const had = document.activeElement;
    settleParts(fresh);
    settleMeanings(found.querySelector("aside.meanings"));
    if (!isHeld) known = fresh;
    document.title = found.title;
    if (had && had !== document.body && !had.isConnected) main.focus({ preventScroll: true });
    const again = found.querySelector("script[data-again]");
    if (again) seconds = Number(again.dataset.again);
    if (again || isHeld) later();
  };

  later();
})();

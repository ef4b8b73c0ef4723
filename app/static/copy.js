// A link that is copied when it is pressed. Where a browser does not let a page copy (plain HTTP to
// another machine), or without this script, it is a link like any other.
"use strict";
for (const link of document.querySelectorAll("a[data-copy]")) {
  link.addEventListener("click", async (event) => {
    if (!navigator.clipboard || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    try {
      await navigator.clipboard.writeText(link.href);
      const words = link.textContent;
      link.textContent = link.dataset.copy;
      link.setAttribute("role", "status");
      setTimeout(() => { link.textContent = words; link.removeAttribute("role"); }, 4000);
    } catch {
      location.assign(link.href);
    }
  });
}

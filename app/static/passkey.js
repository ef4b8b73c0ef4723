// Passkeys: the browser is asked by what the server says, and its answer is sent as a form. Without
// this script, or where a browser has no passkeys, the forms stay hidden and the password is there.
"use strict";
for (const form of document.querySelectorAll("form[data-passkey]")) {
  const makes = form.dataset.passkey === "make";
  if (!window.PublicKeyCredential || !PublicKeyCredential.parseRequestOptionsFromJSON) continue;
  form.hidden = false;
  const says = form.querySelector(".says");
  const tell = (words) => { says.textContent = words; says.hidden = !words; };
  const send = async (address, more) => {
    const body = new URLSearchParams([...new FormData(form), ...more]);
    const answer = await fetch(address, { method: "POST", body, headers: { Accept: "application/json" } });
    const told = await answer.json();
    if (!answer.ok) throw new Error(told.problem);
    return told;
  };
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    tell("");
    try {
      const asked = await send(form.dataset.ask, []);
      const key = makes
        ? await navigator.credentials.create({ publicKey: PublicKeyCredential.parseCreationOptionsFromJSON(asked) })
        : await navigator.credentials.get({ publicKey: PublicKeyCredential.parseRequestOptionsFromJSON(asked) });
      const led = await send(form.action, [["answer", JSON.stringify(key.toJSON())]]);
      location.assign(led.then);
    } catch (fault) {
      tell(fault.message);
    }
  });
}

// What a phone keeps until the server has it: for the page, and for the worker that sends in its place
// once it is closed.
"use strict";
self.clothcastQueue = (page, tokenAt = `${page}/token`) => {
  const BATCH = 25;
  const PATIENCE_MS = 8000;
  const NAME = `clothcast${page}`;

  // ---- entries by their id, and what was said once and is still to be read

  const wanted = (request) =>
    new Promise((done, fail) => {
      request.onsuccess = () => done(request.result);
      request.onerror = () => fail(request.error);
    });
  const base = (() => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("entries", { keyPath: "id" });
      request.result.createObjectStore("told", { keyPath: "text" });
    };
    return wanted(request);
  })();
  base.catch(() => {}); // told where something is to be kept
  const change = async (name, act) => {
    const writing = (await base).transaction(name, "readwrite", { durability: "strict" });
    act(writing.objectStore(name));
    await new Promise((done, fail) => {
      writing.oncomplete = () => done();
      writing.onabort = () => fail(writing.error);
    });
  };
  const all = async (name) =>
    wanted((await base).transaction(name).objectStore(name).getAll());
  const entries = async () => (await all("entries")).sort((a, b) => a.at - b.at);
  const keep = (entry) => change("entries", (store) => store.put(entry));
  const drop = (id) => change("entries", (store) => store.delete(id));

  // ---- the server

  class Refused extends Error {}
  const answered = async (address, options = {}) => {
    const headers = { Accept: "application/json", ...options.headers };
    const signal = AbortSignal.timeout(PATIENCE_MS);
    const answer = await fetch(address, { ...options, headers, signal });
    const found = await answer.json(); // what is no JSON is not ours: a network's own first page
    if (answer.ok) return found;
    const refused = new Refused(found.problem);
    refused.status = answer.status;
    throw refused;
  };
  const newToken = async () => (await answered(tokenAt)).token;
  const post = (token, batch) =>
    answered(`${page}/send`, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Form-Token": token },
      body: JSON.stringify({
        sent_ms: Date.now(),
        entries: batch.map(({ id, at, pairs }) => ({ id, at_ms: at, pairs })),
      }),
    });

  const settle = async (batch, found) => {
    const outcomes = new Map(found.entries.map((one) => [one.id, one]));
    for (const entry of batch) {
      const outcome = outcomes.get(entry.id);
      if (!outcome) continue;
      const { state, problem, address } = outcome;
      await keep({ ...entry, state, problem, address });
    }
    if (found.clock) await change("told", (store) => store.put({ text: found.clock }));
  };

  // Sends what waits, oldest first, one page or worker at a time; says whether the server was
  // reached, and what stood against it.
  const flush = () =>
    navigator.locks.request(NAME, async () => {
      try {
        const token = await newToken();
        let most = BATCH;
        for (;;) {
          const waiting = (await entries()).filter((entry) => entry.state === "waiting");
          if (waiting.length === 0) break;
          const batch = waiting.slice(0, most);
          try {
            await settle(batch, await post(token, batch));
          } catch (fault) {
            if (!(fault instanceof Refused) || fault.status !== 413) throw fault;
            if (most === 1) await keep({ ...batch[0], state: "refused", problem: fault.message });
            most = 1; // too much at once: each by itself
          }
        }
      } catch (fault) {
        const isReached = fault instanceof Refused;
        return { isReached, problem: isReached ? fault.message : "" };
      }
      return { isReached: true, problem: "" };
    });

  return { Refused, all, change, drop, entries, flush, keep, newToken };
};

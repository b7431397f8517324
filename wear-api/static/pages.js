// Makes pages quicker; everything works without it.
"use strict";
(() => {
  const QUEUE = "wear-queue";
  const body = document.body;
  const csrf = () => document.querySelector("meta[name=csrf]")?.content ?? "";

  // What was looked at opens without a connection; whoever signs out leaves nothing behind.
  if (navigator.serviceWorker) {
    if (body.dataset.keeps) navigator.serviceWorker.register("/offline.js").catch(() => {});
    else if (location.pathname === "/sign-in") navigator.serviceWorker.getRegistration().then((it) => it?.active?.postMessage("forget")).catch(() => {});
  }
  if (body.dataset.keptAt) {
    const old = document.getElementById("old");
    old.textContent = body.dataset.old.replace("#", new Date(body.dataset.keptAt).toLocaleString(document.documentElement.lang, { dateStyle: "medium", timeStyle: "short" }));
    old.hidden = false;
  }

  // Live search: the list is asked for again while one types.
  for (const form of document.querySelectorAll("form[data-live]")) {
    const target = form.dataset.live;
    let timer = 0;
    let asked = 0;
    const refresh = async () => {
      const turn = ++asked;
      const query = new URLSearchParams(new FormData(form));
      for (const [name, value] of [...query]) if (!value) query.delete(name);
      const address = `${form.getAttribute("action")}?${query}`;
      try {
        const answer = await fetch(address, { headers: { "X-Live": "1" } });
        // A single exact match leads on to another page; that is for the button.
        if (!answer.ok || turn !== asked || new URL(answer.url).pathname !== form.getAttribute("action")) return;
        const page = new DOMParser().parseFromString(await answer.text(), "text/html");
        const fresh = page.getElementById(target);
        if (!fresh) return;
        document.getElementById(target).replaceWith(document.adoptNode(fresh));
        offerAll();
        keepForms();
        const heading = page.querySelector("h1");
        if (heading) document.querySelector("h1").textContent = heading.textContent;
        history.replaceState(null, "", address);
      } catch { /* no connection: the button still works later */ }
    };
    const soon = () => { clearTimeout(timer); timer = setTimeout(refresh, 180); };
    form.addEventListener("input", soon);
    form.addEventListener("change", soon);
  }

  // One box for all bikes of a page; without a script one ticks each.
  const boxes = (name) => document.querySelectorAll(`input[type=checkbox][name=${name}]`);
  const offerAll = () => { for (const all of document.querySelectorAll("[data-all]")) all.classList.toggle("unseen", !boxes(all.dataset.all).length); };
  document.addEventListener("change", (event) => {
    const all = event.target.closest?.("[data-all]");
    if (all) for (const box of boxes(all.dataset.all)) box.checked = event.target.checked;
  });
  offerAll();

  // Plots tell the day that one points at.
  for (const figure of document.querySelectorAll("figure")) {
    const output = figure.querySelector("output.readout");
    if (!output) continue;
    output.textContent = output.dataset.hint;
    const say = (event) => {
      const title = event.target.closest?.(".probe")?.querySelector("title");
      if (title) output.textContent = title.textContent;
    };
    figure.addEventListener("pointermove", say);
    figure.addEventListener("pointerdown", say);
  }

  // The number pad: the digits that can differ, large enough for a glove.
  const ways = document.querySelector(".ways-to-measure");
  if (ways) {
    const decimal = ways.dataset.decimal;
    const button = (text, act) => {
      const made = document.createElement("button");
      made.type = "button";
      made.textContent = text;
      made.addEventListener("click", act);
      return made;
    };
    for (const input of ways.querySelectorAll("input[data-pad]")) {
      const pad = document.createElement("div");
      pad.className = "pad";
      pad.setAttribute("role", "group");
      pad.setAttribute("aria-label", ways.dataset.padName);
      const first = document.createElement("div");
      const second = document.createElement("div");
      const heads = input.dataset.pad === "mm"
        ? ["304", "305", "306", "307", "308", "309"]
        : Array.from({ length: 12 }, (_, i) => `${Math.floor(i / 10)}${decimal}${i % 10}`);
      const glue = input.dataset.pad === "mm" ? decimal : "";
      const mark = (row, pressed) => {
        for (const other of row.children) other.setAttribute("aria-pressed", String(other === pressed));
      };
      let head = "";
      for (const text of heads) {
        first.append(button(text, (event) => { head = text; input.value = text; mark(first, event.currentTarget); mark(second, null); }));
      }
      for (let digit = 0; digit < 10; digit += 1) {
        second.append(button(`${glue || "…"}${digit}`, (event) => {
          input.value = `${head || heads[0]}${glue}${digit}`;
          mark(second, event.currentTarget);
        }));
      }
      pad.append(first, second);
      // The save button comes last, where the thumb is.
      const save = input.parentElement.querySelector("button");
      input.parentElement.append(pad, save);
    }
  }

  // What could not be sent is kept on the device and sent once.
  const read = () => { try { return JSON.parse(localStorage.getItem(QUEUE)) ?? []; } catch { return []; } };
  const write = (queue) => {
    try { localStorage.setItem(QUEUE, JSON.stringify(queue)); } catch { /* private mode: nothing can be kept */ }
    show();
  };
  const strip = document.getElementById("queue");
  const say = (text) => { strip.textContent = text; strip.hidden = !text; };
  const show = (extra = "") => {
    const waiting = read().length;
    say([extra, waiting ? body.dataset.waiting.replace("#", waiting) : ""].filter(Boolean).join(" · "));
  };
  const send = (entry) => {
    const fields = new URLSearchParams(entry.fields);
    fields.set("csrf", csrf());
    return fetch(entry.to, { method: "POST", body: fields, credentials: "same-origin" });
  };
  const drop = (key) => write(read().filter((entry) => entry.key !== key));

  let flushing = false;
  const flush = async () => {
    if (flushing) return;
    flushing = true;
    try {
      for (const entry of read()) {
        let answer;
        try { answer = await send(entry); } catch { break; }
        const at = new URL(answer.url).pathname;
        if (at === "/sign-in") { show(body.dataset.signedOut); break; }
        if (answer.ok) { drop(entry.key); show(`${body.dataset.sent}: ${entry.label}`); continue; }
        if (answer.status >= 500 || answer.status === 429 || answer.status === 403) break;
        drop(entry.key);
        show(`${entry.label} ${body.dataset.refused}`);
      }
    } finally { flushing = false; }
  };
  addEventListener("online", flush);
  setInterval(() => { if (read().length) flush(); }, 10000);
  show();
  if (read().length) flush();

  // The phone's clock may be wrong: what counts is the time passed since the page came.
  const came = Date.now();
  const keepForms = () => document.querySelectorAll("form[data-keep]:not([data-kept])").forEach((form) => {
    form.dataset.kept = "1";
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      // Tapped twice, it is one entry.
      if (form.dataset.busy) return;
      form.dataset.busy = "1";
      const fields = [...new FormData(form, event.submitter)];
      const server = new Date(form.dataset.now).getTime();
      const taken = new Date(server + Date.now() - came).toISOString();
      const entry = {
        key: `${taken}-${Math.random()}`,
        to: form.getAttribute("action"),
        label: form.dataset.label,
        fields: fields.map(([name, value]) => [name, name === "taken_at" ? taken : value]),
      };
      write([...read(), entry]);
      strip.hidden = true;
      const keep = () => {
        const kept = document.getElementById("kept");
        kept.textContent = form.dataset.keep;
        kept.hidden = false;
        kept.scrollIntoView({ block: "nearest" });
        for (const button of form.querySelectorAll("button")) button.disabled = true;
        show();
      };
      let answer;
      try { answer = await send(entry); } catch { keep(); return; }
      const at = new URL(answer.url);
      if (at.pathname === "/sign-in") {
        location.assign(`/sign-in?back=${encodeURIComponent(location.pathname)}`);
      } else if (answer.ok) {
        drop(entry.key);
        const to = form.dataset.anchor ? `${answer.url}#${form.dataset.anchor}` : answer.url;
        // With nothing but another place on it, the page itself would stay as it is.
        if (form.dataset.anchor) history.replaceState(null, "", to);
        if (form.dataset.anchor) location.reload(); else location.assign(to);
      } else if (answer.status >= 500 || answer.status === 429) {
        keep();
      } else {
        // The server says what is wrong, on its own page.
        drop(entry.key);
        if (event.submitter?.name) {
          const pressed = document.createElement("input");
          pressed.type = "hidden";
          pressed.name = event.submitter.name;
          pressed.value = event.submitter.value;
          form.append(pressed);
        }
        form.submit();
      }
    });
  });
  keepForms();
})();

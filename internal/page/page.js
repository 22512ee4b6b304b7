// Sends links and forms, swaps what has changed, in both homes: by fetch where a server answers, by a worker in the file.
"use strict";
(() => {
  const program = document.getElementById("program"); // the packed program: this is the file
  const remembered = "carryover:go-on";

  // here is the address within the page, a path with its query.
  const here = () => (program ? location.hash.slice(1) || "/" : location.pathname + location.search);
  const address = (path) => (program ? "#" + path : path);
  // inside is the path that an address of a link or form leads to, null where it leads elsewhere.
  function inside(href) {
    if (href === null) return null;
    if (program) return href.startsWith("#/") ? href.slice(1) : null;
    return href.startsWith("/") && !href.startsWith("//") ? href : null;
  }

  // ask returns {path, status, name, type, text}, following what leads elsewhere.
  let ask = async (path, form, signal) => {
    const r = await fetch(path, form ? { method: "POST", body: new URLSearchParams(form) } : { signal });
    const at = new URL(r.url);
    return { path: at.pathname + at.search, status: r.status, text: await r.text() };
  };

  if (program) {
    const waiting = new Map();
    let worker, next = 0;
    const fail = (text) => { for (const done of waiting.values()) done({ status: 500, text: "", error: text }); waiting.clear(); };
    const begin = () => {
      const packed = atob(program.textContent.trim());
      const bytes = new Uint8Array(packed.length);
      for (let i = 0; i < bytes.length; i++) bytes[i] = packed.charCodeAt(i);
      const code = ["runtime", "worker"].map((id) => document.getElementById(id).textContent);
      worker = new Worker(URL.createObjectURL(new Blob(code, { type: "text/javascript" })));
      worker.onmessage = ({ data }) => {
        if (data.error) return fail(data.error);
        if (data.forgets) document.getElementById("forgets").hidden = false;
        const done = waiting.get(data.id);
        waiting.delete(data.id);
        if (done) done(data.answer);
      };
      worker.onerror = (e) => fail(e.message || "the program could not be started");
      worker.postMessage({ program: bytes.buffer }, [bytes.buffer]);
    };
    const call = (path, form) => new Promise((done) => {
      if (!worker) begin();
      waiting.set(++next, done);
      worker.postMessage({ id: next, request: { post: !!form, path, form: form ? new URLSearchParams(form).toString() : "" } });
    });
    ask = async (path, form) => {
      let a = await call(path, form);
      if (a.location) {
        path = a.location;
        a = await call(path);
      }
      return { ...a, path };
    };
  }

  // morph makes an element like another, touching only what differs; the field that somebody is in keeps what is typed.
  function morph(old, fresh) {
    if (old.nodeType !== fresh.nodeType || old.nodeName !== fresh.nodeName || (old.id || "") !== (fresh.id || "")) {
      old.replaceWith(document.importNode(fresh, true));
      return;
    }
    if (old.nodeType !== Node.ELEMENT_NODE) {
      if (old.nodeValue !== fresh.nodeValue) old.nodeValue = fresh.nodeValue;
      return;
    }
    const busy = old === document.activeElement;
    for (const { name } of [...old.attributes]) if (!fresh.hasAttribute(name)) old.removeAttribute(name);
    for (const { name, value } of [...fresh.attributes]) if (old.getAttribute(name) !== value) old.setAttribute(name, value);
    if (old.nodeName === "INPUT" && !busy) {
      if (old.type === "checkbox" || old.type === "radio") old.checked = fresh.hasAttribute("checked");
      else if (old.type !== "file" && old.value !== fresh.getAttribute("value")) old.value = fresh.getAttribute("value") || "";
    }
    if (old.nodeName === "TEXTAREA") {
      if (!busy) old.value = fresh.textContent;
      return;
    }
    const a = [...old.childNodes], b = [...fresh.childNodes];
    for (let i = b.length; i < a.length; i++) a[i].remove();
    for (let i = 0; i < b.length; i++) i < a.length ? morph(a[i], b[i]) : old.append(document.importNode(b[i], true));
    if (old.nodeName === "SELECT" && !busy) {
      const chosen = [...old.options].findIndex((o) => o.hasAttribute("selected"));
      old.selectedIndex = Math.max(chosen, 0);
    }
  }

  // show puts an answer on the page; whole starts at its top, as another page does.
  function show(a, whole) {
    if (a.error) {
      document.querySelector("main").textContent = "This browser could not run the program: " + a.error;
      return;
    }
    const fresh = new DOMParser().parseFromString(a.text, "text/html"), main = fresh.querySelector("main");
    if (!main) {
      document.querySelector("main").textContent = a.text;
      return;
    }
    document.title = fresh.title;
    if (whole) {
      document.querySelector("main").replaceWith(document.importNode(main, true));
      document.querySelector("header nav").replaceWith(document.importNode(fresh.querySelector("header nav"), true));
      window.scrollTo(0, 0);
      const first = document.querySelector("main [autofocus]") || document.querySelector("main h1");
      if (first) first.focus({ preventScroll: true });
    } else morph(document.querySelector("main"), main);
    settle();
  }

  // settle remembers what is under way, and offers it on the first page.
  function settle() {
    const path = here(), go = document.querySelector("[data-go-on]");
    try {
      if (/^\/(carry|new|felt)\?/.test(path)) localStorage.setItem(remembered, path);
      const last = localStorage.getItem(remembered);
      if (go && last) {
        go.querySelector("a").setAttribute("href", address(last));
        go.hidden = false;
      }
    } catch { /* a browser that keeps nothing still shows the page */ }
  }

  let turn = 0, live = null, sending = false, underWay = null;
  // visit goes to a path; keep swaps only what differs and leaves no step in the history.
  async function visit(path, { form = null, keep = false, back = false } = {}) {
    const mine = ++turn;
    if (!keep) live = null; // what was about to be sent stands in this request too
    if (underWay) underWay.abort();
    underWay = form ? null : new AbortController();
    if (keep) history.replaceState(null, "", address(path));
    document.body.toggleAttribute("data-busy", true);
    try {
      const a = await ask(path, form, underWay && underWay.signal);
      if (mine !== turn || (keep && live)) return; // an answer to what no longer stands there
      if (!keep && !back && (a.path !== here() || form)) history.pushState(null, "", address(form && a.status >= 400 ? here() : a.path));
      show(a, !keep);
    } catch (e) {
      if (e.name !== "AbortError") say("Nobody answers: is carryover serve still running? What you typed is kept in the address.");
    } finally {
      if (mine === turn) document.body.removeAttribute("data-busy");
    }
  }

  // update sends a form as it stands, and once more if it changed meanwhile: never two at a time.
  async function update() {
    if (sending) return;
    sending = true;
    while (live) {
      const form = live;
      live = null;
      if (form.isConnected) await visit(query(form), { keep: true });
    }
    sending = false;
  }

  function say(text) {
    const box = document.getElementById("said");
    box.textContent = text;
    box.hidden = false;
  }

  // query is the path of a form that asks: empty fields are left out, so that the address stays short.
  function query(form, pressed) {
    const fields = new URLSearchParams();
    for (const [name, value] of new FormData(form, pressed)) if (value !== "" && typeof value === "string") fields.append(name, value);
    const path = inside(form.getAttribute("action")).split("?")[0];
    return fields.size ? path + "?" + fields : path;
  }

  document.addEventListener("click", async (e) => {
    const sign = e.target.closest("[data-sign]");
    if (sign) { // the number pad of a phone has no minus
      const field = document.getElementById(sign.dataset.sign);
      field.value = /^[-−]/.test(field.value) ? field.value.slice(1) : "-" + field.value;
      field.dispatchEvent(new Event("input", { bubbles: true }));
      field.focus();
      return;
    }
    const a = e.target.closest("a[href]");
    const path = a && inside(a.getAttribute("href"));
    if (!path || e.ctrlKey || e.metaKey || e.shiftKey || e.button) return;
    if (a.hasAttribute("download")) {
      if (!program) return; // the server hands it out
      e.preventDefault();
      const got = await ask(path);
      if (got.status !== 200) return show(got, true);
      const link = document.createElement("a");
      link.href = URL.createObjectURL(new Blob([got.text], { type: got.type }));
      link.download = got.name;
      link.click();
      setTimeout(() => URL.revokeObjectURL(link.href), 60000);
      return;
    }
    e.preventDefault();
    visit(path);
  });

  document.addEventListener("submit", (e) => {
    const form = e.target, path = inside(form.getAttribute("action"));
    if (!path) return;
    e.preventDefault();
    if (form.method !== "post") return visit(query(form, e.submitter), { keep: e.submitter?.name === "moved" });
    const fields = [...new FormData(form, e.submitter)].filter(([, value]) => typeof value === "string");
    visit(path, { form: fields });
  });

  document.addEventListener("input", (e) => {
    const form = e.target.form;
    if (!form || !form.hasAttribute("data-live") || e.target.type === "file") return;
    live = form;
    update();
  });

  document.addEventListener("change", async (e) => {
    const field = e.target, file = field.type === "file" && field.files[0];
    if (!file || !field.form) return;
    const text = await file.text(), name = field.form.elements.file;
    field.form.elements.text.value = text;
    if (!name.value) name.value = file.name;
  });

  // A drawing with data-drag moves the field of that id; data-from is the field's value at the drawing's origin, x counts down in its
  // scale.
  let held = null;
  const move = (e) => {
    const x = new DOMPoint(e.clientX, e.clientY).matrixTransform(held.toDrawing).x;
    held.field.value = Math.round(held.from - (x - held.origin) * held.scale);
    held.field.dispatchEvent(new Event("input", { bubbles: true }));
  };
  document.addEventListener("pointerdown", (e) => {
    const drawing = e.target.closest("svg[data-drag]");
    if (!drawing) return;
    e.preventDefault();
    const { drag, from, scale, origin } = drawing.dataset;
    held = { field: document.getElementById(drag), from: Number(from), scale: Number(scale), origin: parseFloat(origin),
      toDrawing: drawing.getScreenCTM().inverse() };
    move(e);
  });
  document.addEventListener("pointermove", (e) => { if (held) move(e); });
  for (const end of ["pointerup", "pointercancel"]) document.addEventListener(end, () => { held = null; });

  window.addEventListener(program ? "hashchange" : "popstate", () => visit(here(), { back: true }));
  document.documentElement.setAttribute("data-script", "");
  if (program) visit(here(), { back: true });
  else settle();
})();

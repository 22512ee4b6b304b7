// The worker of the file: it runs the program and keeps the rider's files in the browser. One request is one transaction, so that
// two windows never write over each other, and a write is whole or not at all.
"use strict";
let base = null, forgets = false;
const memory = new Map();
const opened = new Promise((done) => {
  const fallback = () => { forgets = true; done(); };
  try {
    const r = indexedDB.open("carryover", 1);
    r.onupgradeneeded = () => r.result.createObjectStore("files", { keyPath: "name" });
    r.onsuccess = () => { base = r.result; done(); };
    r.onerror = r.onblocked = fallback;
  } catch { fallback(); }
});

let ready = null;
async function start(bytes) {
  const go = new Go();
  const wasm = new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip")), { headers: { "Content-Type": "application/wasm" } });
  const { instance } = await WebAssembly.instantiateStreaming(wasm, go.importObject);
  go.run(instance); // it answers once it has nothing else to do
  await opened;
}

const call = (request, files) => JSON.parse(carryoverAnswer(JSON.stringify({ ...request, files })));
const failed = (text) => call({ path: "/not-kept", form: "", post: false, why: String(text) }, {});

function answer(request) {
  if (!base) {
    const a = call(request, Object.fromEntries(memory));
    for (const [name, text] of Object.entries(a.written || {})) memory.set(name, text);
    for (const name of a.removed || []) memory.delete(name);
    return a;
  }
  return new Promise((done) => {
    const t = base.transaction("files", request.post ? "readwrite" : "readonly"), files = t.objectStore("files");
    let a;
    files.getAll().onsuccess = (e) => {
      a = call(request, Object.fromEntries(e.target.result.map((f) => [f.name, f.text])));
      for (const [name, text] of Object.entries(a.written || {})) files.put({ name, text });
      for (const name of a.removed || []) files.delete(name);
    };
    t.oncomplete = () => done(a);
    t.onabort = t.onerror = () => done(failed(t.error));
  });
}

onmessage = async ({ data }) => {
  if (data.program) {
    ready = start(data.program).catch((e) => postMessage({ error: String(e) }));
    return;
  }
  try {
    await ready;
    postMessage({ id: data.id, answer: await answer(data.request), forgets });
  } catch (e) { postMessage({ error: String(e) }); }
};

"use strict";
// Sends files to this machine's own server, and follows what becomes of them.

const LOOK_EVERY_MS = 300;
const token = document.body.dataset.token;

function send(method, address, body, headers, advance) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open(method, address);
    request.setRequestHeader("X-Mixproof-Token", token);
    request.setRequestHeader("Accept", "application/json");
    for (const [name, value] of Object.entries(headers)) request.setRequestHeader(name, value);
    if (advance) request.upload.addEventListener("progress", (event) => advance(event.loaded));
    request.addEventListener("load", () => {
      let answer = {};
      try { answer = JSON.parse(request.responseText); } catch { answer = { refused: request.responseText }; }
      if (request.status < 400) resolve(answer);
      else reject(new Error(answer.refused || "The server refused this."));
    });
    request.addEventListener("error", () => reject(new Error("The server does not answer. Is it still running?")));
    request.send(body);
  });
}

const HIDDEN = /(^|\/)\./;

// Reads what was dropped: a file is the mix, a folder the stems.
async function dropped({ items, files }) {
  const entries = [...items].map((item) => item.webkitGetAsEntry && item.webkitGetAsEntry()).filter(Boolean);
  const sounds = { mix: entries.length ? [] : [...files], stems: [] };
  for (const entry of entries) {
    if (entry.isFile) sounds.mix.push(await new Promise((resolve, reject) => entry.file(resolve, reject)));
    else sounds.stems.push(...await inside(entry));
  }
  return sounds;
}

async function inside(folder) {
  const reader = folder.createReader();
  const files = [];
  for (;;) {
    const entries = await new Promise((resolve, reject) => reader.readEntries(resolve, reject));
    if (!entries.length) return files;
    for (const entry of entries) if (entry.isFile) files.push(await new Promise((resolve, reject) => entry.file(resolve, reject)));
  }
}

class Asking {
  constructor(form) {
    this.form = form;
    this.button = form.querySelector(".send");
    this.said = form.querySelector(".said");
    this.bar = form.querySelector(".sent");
    this.accept = form.querySelector("[accept]").accept.split(",");
    this.dropped = {};
    this.button.disabled = false;
    form.addEventListener("submit", (event) => { event.preventDefault(); this.run(); });
    const place = form.querySelector(".drop");
    if (place) this.takeDrops(place);
  }

  takeDrops(place) {
    const over = (on) => (event) => { event.preventDefault(); place.classList.toggle("over", on); };
    document.addEventListener("dragover", over(true));
    document.addEventListener("dragleave", over(false));
    document.addEventListener("drop", async (event) => {
      over(false)(event);
      const sounds = await dropped(event.dataTransfer);
      if (sounds.mix.length > 1) { this.say("Drop one mix, and the folder of its stems."); return; }
      for (const [slot, files] of Object.entries(sounds)) if (files.length) this.dropped[slot] = files;
      const words = Object.entries(this.dropped).map(([slot, files]) => slot === "mix" ? files[0].name : `${files.length} files of stems`);
      this.say(`Dropped: ${words.join(", ")}.`);
    });
  }

  say(words) { this.said.textContent = words; }

  files() {
    const chosen = [];
    for (const input of this.form.querySelectorAll("[data-slot]")) {
      const slot = input.dataset.slot;
      for (const file of input.files.length ? input.files : this.dropped[slot] || []) {
        const path = file.webkitRelativePath || file.name;
        const deep = path.split("/").length > 2; // deeper folders hold no stems
        const sound = this.accept.some((ending) => file.name.toLowerCase().endsWith(ending)) || file.name === "stems.toml";
        if (slot !== "stems" || (sound && !deep && !HIDDEN.test(path))) chosen.push([slot, file]);
      }
    }
    return chosen;
  }

  async run() {
    const files = this.files();
    if (!files.length) { this.say("Choose a file first."); return; }
    this.button.disabled = true;
    try { await this.sendAll(files); } catch (error) {
      this.say(error.message);
      this.bar.hidden = true;
      this.button.disabled = false;
    }
  }

  async sendAll(files) {
    const fields = new URLSearchParams(new FormData(this.form));
    fields.set("kind", this.form.dataset.kind);
    const { run } = await send("POST", "/runs", fields, {});
    const whole = files.reduce((sum, [, file]) => sum + file.size, 0);
    let before = 0;
    this.bar.hidden = false;
    for (const [slot, file] of files) {
      this.say(`Taking in ${file.name}`);
      const address = `/runs/${run}/${slot}?name=${encodeURIComponent(file.name)}`;
      const advance = (loaded) => { this.bar.value = (before + loaded) / Math.max(whole, 1); };
      await send("PUT", address, file, { "Content-Type": "application/octet-stream" }, advance);
      before += file.size;
    }
    await start(run);
    location.assign(`/runs/${run}`);
  }
}

async function start(run) {
  await fetch(`/runs/${run}/start`, { method: "POST", headers: { "X-Mixproof-Token": token, Accept: "application/json" }, redirect: "manual" })
    .then(async (answer) => {
      if (answer.type !== "opaqueredirect") throw new Error((await answer.json()).refused);
    });
}

// Looks again until a run has ended; only what moved is replaced, so that a reader stays where they are.
async function follow() {
  const live = document.getElementById("live");
  if (!live || !("moving" in live.dataset)) return;
  const said = document.getElementById("said");
  try {
    const answer = await fetch(location.pathname);
    if (!answer.ok) { location.reload(); return; }
    const there = new DOMParser().parseFromString(await answer.text(), "text/html");
    const now = there.getElementById("live");
    const parts = [live.querySelector("#progress"), now.querySelector("#progress")];
    if (now.dataset.state !== live.dataset.state) {
      live.replaceWith(document.importNode(now, true));
      said.textContent = WORDS[now.dataset.state] || "";
    } else if (parts[0] && parts[1]) {
      const open = parts[0].querySelector("details[open]");
      if (open && parts[1].querySelector("details")) parts[1].querySelector("details").open = true;
      if (!parts[0].contains(document.activeElement)) parts[0].replaceWith(document.importNode(parts[1], true));
    }
    if (said.textContent === LOST) said.textContent = "";
  } catch { said.textContent = LOST; }
  setTimeout(follow, LOOK_EVERY_MS);
}

const LOST = "The server does not answer. What was begun goes on when it is started again.";
const WORDS = { "running-first": "The first findings are here.", done: "Done: the report is here.", failed: "It could not be done." };

document.querySelectorAll("form.ask").forEach((form) => new Asking(form));
follow();

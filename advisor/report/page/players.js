"use strict";
{
const ROUNDS = 10;
const STEP_S = 1;
const LATE_S = 0.04; // two players further apart than this are brought together before a switch
const players = [];

const clock = (time) => {
  const whole = Math.max(0, Math.floor(time + 0.001));
  const two = (number) => String(number).padStart(2, "0");
  const minutes = Math.floor(whole / 60);
  return minutes < 60 ? `${minutes}:${two(whole % 60)}` : `${Math.floor(minutes / 60)}:${two(minutes % 60)}:${two(whole % 60)}`;
};

const make = (tag, name, properties = {}, ...children) => {
  const element = Object.assign(document.createElement(tag), properties);
  element.className = name;
  element.append(...children);
  return element;
};

// How often guessing gets at least this many of ROUNDS right.
const guessing = (right) => {
  let ways = 0;
  for (let count = right, choose = 1; count <= ROUNDS; count += 1) {
    choose = 1;
    for (let place = 1; place <= count; place += 1) choose = choose * (ROUNDS - place + 1) / place;
    ways += choose;
  }
  return ways / 2 ** ROUNDS;
};

class Player {
  constructor(root, number) {
    this.root = root;
    this.clips = [...root.querySelectorAll("audio")];
    this.words = [...root.querySelectorAll(".clip")].map((clip) => clip.firstChild.textContent.trim());
    this.start = Number(root.dataset.start);
    this.length = Number(root.dataset.length);
    this.marks = [...root.querySelectorAll(".mark")];
    this.chosen = 0; // what the listener has chosen: a clip, or one past them for X
    this.hidden = 0; // the clip that X is
    this.time = 0;
    this.playing = false;
    this.build(number);
    this.listen();
    this.choose(0);
    this.show();
  }

  get current() { return this.clips[this.chosen < this.clips.length ? this.chosen : this.hidden]; }

  build(number) {
    this.button = make("button", "play", { type: "button", textContent: "Play" });
    this.slider = make("input", "seek", { type: "range", min: 0, max: this.length, step: 0.01, value: 0 });
    this.slider.setAttribute("aria-label", `Position in ${this.root.getAttribute("aria-label")}`);
    this.place = make("span", "place");
    const track = make("span", "track", {}, make("span", "marks", {}, ...this.marks), this.slider);
    for (const mark of this.marks) {
      mark.style.left = `${100 * mark.dataset.from / this.length}%`;
      mark.style.width = `${100 * (mark.dataset.to - mark.dataset.from) / this.length}%`;
    }
    this.row = make("span", "row", {}, this.button);
    if (this.clips.length > 1) this.buildSwitch(number);
    this.row.append(track, this.place);
    this.root.append(this.row);
    if (this.clips.length > 1) this.buildTest();
    const keys = this.clips.length > 1 ? "Space: play · ← →: one second · A, B: before, after" : "Space: play · ← →: one second";
    this.root.append(make("span", "keys", { textContent: keys }));
    this.root.classList.add("live");
  }

  buildSwitch(number) {
    const choices = make("span", "switch");
    choices.setAttribute("role", "radiogroup");
    choices.setAttribute("aria-label", "What you hear");
    this.radios = [...this.words, "X"].map((word, place) => {
      const radio = make("input", "", { type: "radio", name: `heard-${number}` });
      radio.addEventListener("change", () => this.choose(place));
      choices.append(make("label", "", {}, radio, make("span", "", { textContent: word })));
      return radio;
    });
    this.radios[2].parentElement.hidden = true;
    this.row.append(choices);
  }

  buildTest() {
    this.open = make("button", "blind", { type: "button", textContent: "Blind test" });
    this.open.addEventListener("click", () => this.begin());
    this.row.append(this.open);
    this.test = make("span", "test", { hidden: true });
    this.said = make("span", "said");
    this.said.setAttribute("role", "status");
    this.answers = this.words.map((word, place) => {
      const answer = make("button", "answer", { type: "button", textContent: `X is ${word.toLowerCase()}` });
      answer.addEventListener("click", () => this.answer(place));
      return answer;
    });
    const stop = make("button", "stop", { type: "button", textContent: "Close the test" });
    stop.addEventListener("click", () => this.end());
    this.test.append(this.said, ...this.answers, stop);
    this.root.append(this.test);
  }

  listen() {
    this.button.addEventListener("click", () => this.toggle());
    this.slider.addEventListener("input", () => this.seek(Number(this.slider.value)));
    this.root.addEventListener("keydown", (event) => this.key(event));
    for (const clip of this.clips) {
      clip.removeAttribute("controls");
      clip.addEventListener("loadedmetadata", () => { if (this.time > 0) clip.currentTime = this.time; });
      clip.addEventListener("timeupdate", () => this.follow(clip));
      clip.addEventListener("ended", () => this.ended(clip));
      clip.addEventListener("error", () => this.missing());
    }
  }

  key(event) {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const key = event.key.toLowerCase();
    const place = ["a", "b", "x"].indexOf(key);
    if (key === " " && event.target.tagName !== "BUTTON") this.toggle();
    else if (key === "arrowleft") this.seek(this.time - STEP_S);
    else if (key === "arrowright") this.seek(this.time + STEP_S);
    else if (key === "escape" && this.close) this.undock();
    else if (this.radios && place >= 0 && !this.radios[place].parentElement.hidden) this.choose(place);
    else return;
    event.preventDefault();
  }

  choose(place) {
    if (this.playing) this.time = this.current.currentTime;
    this.chosen = place;
    if (this.radios) this.radios[place].checked = true;
    const heard = this.current;
    if (this.playing && Math.abs(heard.currentTime - this.time) > LATE_S) heard.currentTime = this.time;
    for (const clip of this.clips) clip.muted = clip !== heard;
    if (this.playing && heard.paused) this.start_playing(heard);
  }

  toggle() { if (this.playing) this.pause(); else this.play(); }

  play() {
    for (const other of players) if (other !== this) other.pause();
    this.playing = true;
    for (const clip of this.clips) {
      if (clip.readyState > 0) clip.currentTime = this.time;
      this.start_playing(clip);
    }
    this.show();
  }

  start_playing(clip) {
    clip.play().catch((error) => { if (error.name !== "AbortError" && clip === this.current) this.missing(); });
  }

  pause() {
    if (!this.playing) return;
    this.playing = false;
    this.time = this.current.currentTime;
    for (const clip of this.clips) clip.pause();
    this.show();
  }

  seek(time) {
    this.time = Math.min(Math.max(time, 0), this.length);
    for (const clip of this.clips) if (clip.readyState > 0) clip.currentTime = this.time;
    this.show();
  }

  follow(clip) {
    if (!this.playing || clip !== this.current || clip.seeking) return;
    this.time = clip.currentTime;
    for (const other of this.clips) {
      const apart = Math.abs(other.currentTime - this.time);
      if (other !== clip && !other.seeking && other.readyState > 1 && apart > LATE_S) other.currentTime = this.time;
    }
    this.show();
  }

  ended(clip) {
    if (clip !== this.current || !this.playing) return;
    if (this.clips.length < 2) this.pause();
    this.seek(0);
    if (this.playing) this.play(); // a pair goes round, so that it can be compared for as long as it takes
  }

  missing() {
    this.pause();
    this.place.textContent = "cannot be played here";
  }

  show() {
    const at = this.start + this.time;
    const mark = this.marks.find(({ dataset }) => this.time >= dataset.from && this.time <= dataset.to);
    this.button.textContent = this.playing ? "Pause" : "Play";
    this.slider.value = this.time;
    this.slider.setAttribute("aria-valuetext", mark ? `${clock(at)}, in ${mark.title}` : clock(at));
    this.place.textContent = mark && this.clips.length < 2 ? `${clock(at)} ${mark.title}` : clock(at);
  }

  // Holds the player at the foot of the window, until it is closed and the reader goes on where they were.
  dock(from) {
    if (!this.close) {
      this.close = make("button", "close", { type: "button", textContent: "Close" });
      this.close.addEventListener("click", () => this.undock());
      this.row.append(this.close);
    }
    this.from = from;
    this.root.classList.add("docked");
    this.button.focus({ preventScroll: true });
  }

  undock() {
    this.pause();
    this.close.remove();
    this.close = null;
    this.root.classList.remove("docked");
    this.from.focus();
  }

  begin() {
    this.rounds = 0;
    this.right = 0;
    this.open.hidden = true;
    this.test.hidden = false;
    this.radios[2].parentElement.hidden = false;
    for (const answer of this.answers) answer.hidden = false;
    this.shuffle();
    this.said.textContent = `X is one of the two, drawn anew each time. Listen, then say which. Round 1 of ${ROUNDS}.`;
    this.radios[2].focus();
  }

  shuffle() {
    this.hidden = Math.random() < 0.5 ? 0 : 1;
    this.choose(2);
  }

  answer(place) {
    this.rounds += 1;
    if (place === this.hidden) this.right += 1;
    const so_far = `${this.right} of ${this.rounds}`;
    if (this.rounds < ROUNDS) {
      this.shuffle();
      this.said.textContent = `${so_far} right. Round ${this.rounds + 1} of ${ROUNDS}.`;
      return;
    }
    const share = guessing(this.right);
    const often = share > 0.5 ? "more often than not" : `once in ${Math.round(1 / share)} tests`;
    const heard = share < 0.05;
    this.said.textContent = `${so_far}: ${heard ? "you hear it" : "this may be guessing"}. Guessing gets as many right ${often}.`;
    this.finish();
  }

  finish() {
    for (const answer of this.answers) answer.hidden = true;
    this.radios[2].parentElement.hidden = true;
    this.choose(0);
    this.open.hidden = false;
    this.open.textContent = "Test again";
    this.open.focus();
  }

  end() {
    this.finish();
    this.test.hidden = true;
    this.open.textContent = "Blind test";
  }
}

document.querySelectorAll(".player").forEach((root, number) => players.push(new Player(root, number)));

// A time of the song plays the mix from there, in the page instead of beside it.
const mix = players.find(({ root }) => root.classList.contains("whole"));
document.addEventListener("click", (event) => {
  const link = event.target.closest("a.time");
  if (!link || !mix || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  mix.seek(Number(new URL(link.href).hash.slice(3).split(",")[0]));
  mix.play();
  mix.dock(link);
});
}

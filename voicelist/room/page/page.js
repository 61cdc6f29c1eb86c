"use strict";

// Shows the newest state that the server sent, and says so when nothing comes any more. It sends
// nothing, and every text is put in as text.

const LOST_AFTER_MS = 2200;
const GLANCE_MS = 200;
const ANEW_AFTER_MS = 1000;

let state = null;
let takenAt = performance.now();
let everTaken = false;
let feed = null;
let openedAt = 0;
let shownParts = {};

const part = (id) => document.getElementById(id);

function put(id, text) {
  const element = part(id);
  if (element.textContent !== text) element.textContent = text;
}

function showIf(id, shown) {
  part(id).hidden = !shown;
}

function inWords(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor(whole / 60) % 60;
  if (hours) return `${hours} h ${minutes} min`;
  return minutes ? `${minutes} min` : `${whole % 60} s`;
}

function made(name, className, ...inside) {
  const element = document.createElement(name);
  if (className) element.className = className;
  element.append(...inside);
  return element;
}

function mark(kind) {
  const shape = made("span", `mark mark-${kind}`);
  shape.setAttribute("aria-hidden", "true");
  return shape;
}

// Lists are made anew only where they changed, so that nothing is read out twice.
function list(id, entries, one) {
  const told = JSON.stringify(entries);
  if (shownParts[id] === told) return;
  shownParts[id] = told;
  part(id).replaceChildren(...entries.map(one));
}

function heardLine(line) {
  const who = line.who ? [made("span", "who", line.who), " "] : [];
  return made("li", `became-${line.mark}`, mark(line.mark), made("span", "words", ...who, line.words),
    " ", made("span", "became", line.became));
}

function sectionLine(section) {
  const marks = section.marks.map(mark);
  const standing = section.state === "through" ? "through" : section.here ? "now" : section.waits ? "when asked" : "";
  const line = made("li", section.here ? "here" : "", made("span", "name", section.name), " ",
    made("span", "marks", ...marks), " ",
    made("span", "count", `${section.through} of ${section.due}`, standing ? `, ${standing}` : ""));
  if (section.here) line.setAttribute("aria-current", "step");
  return line;
}

function openLine(item) {
  return made("li", "", mark(item.mark), made("span", "words", item.name), " ", made("span", "became", item.why));
}

function mismatchLine(one) {
  return made("li", "", mark("mismatch"), made("span", "words", one.name, ": ", one.sentence));
}

function milestoneLine(one) {
  const when = one.clock || "";
  const line = made("li", "", mark("recorded"), made("span", "words", one.name), " ", made("span", "became", when));
  if (one.since_s !== null) line.lastChild.dataset.since = one.since_s;
  return line;
}

function showAll() {
  put("title", state.title);
  put("case", state.case);
  document.title = state.call ? `${state.call} - voicelist` : "voicelist";
  showIf("practice", state.practice);
  put("unheard", state.unheard.join(", "));
  showIf("unheard-line", state.unheard.length > 0 && !state.closed && state.band !== "not-listening");
  put("section", state.section);
  put("call", state.call || "voicelist");
  // A call always stands in full size; what is read back may be longer.
  const length = state.asks === "call" ? 0 : state.call.length;
  part("call").classList.toggle("long", length > 64);
  part("call").classList.toggle("longer", length > 110);
  put("more", state.more);
  put("source", state.source);
  showIf("source-line", Boolean(state.source));
  showIf("answers-part", state.answers.length > 0);
  list("answers", state.answers, (one) => made("li", "", one));
  list("heard", state.heard, heardLine);
  showIf("heard-none", !state.heard.length);
  list("open", state.open, openLine);
  showIf("open-none", !state.open.length);
  put("not-asked", String(state.not_asked));
  list("sections", state.sections, sectionLine);
  list("mismatches", state.mismatches, mismatchLine);
  showIf("mismatches-part", state.mismatches.length > 0);
  shownParts.milestones = "";
  list("milestones", state.milestones, milestoneLine);
  showIf("milestones-part", state.milestones.length > 0);
  put("until", state.until);
  showIf("elapsed-line", state.elapsed_s !== null);
}

function showTimes(ago) {
  if (state.elapsed_s !== null) put("elapsed", inWords(state.elapsed_s + ago));
  showIf("quiet-line", state.quiet_s !== null);
  if (state.quiet_s !== null) put("quiet", inWords(state.quiet_s + ago));
  for (const one of document.querySelectorAll("#milestones [data-since]")) {
    const text = `${inWords(Number(one.dataset.since) + ago)} ago`;
    if (one.textContent !== text) one.textContent = text;
  }
}

function showBand(band) {
  if (document.body.dataset.band === band && !document.querySelector(`[data-state="${band}"]`).hidden) return;
  document.body.dataset.band = band;
  for (const one of document.querySelectorAll("[data-state]")) one.hidden = one.dataset.state !== band;
}

function look() {
  const now = performance.now();
  const silent = now - takenAt;
  const ended = state !== null && Boolean(state.closed);
  if (silent > LOST_AFTER_MS && !ended) {
    put("lost", everTaken ? inWords(silent / 1000) : "a while");
    showBand("lost");
  } else if (state !== null) {
    showBand(state.band === "listening" && state.typing ? "typing" : state.band);
  }
  if (state !== null && !(ended && silent > LOST_AFTER_MS)) showTimes(ended ? 0 : Math.min(silent, LOST_AFTER_MS) / 1000);
  if (feed.readyState === EventSource.CLOSED && now - openedAt > ANEW_AFTER_MS) open();
  if (silent > 10000 && now - openedAt > 10000) open();
}

function open() {
  if (feed !== null) feed.close();
  openedAt = performance.now();
  feed = new EventSource("/feed");
  feed.onmessage = (event) => {
    state = JSON.parse(event.data);
    takenAt = performance.now();
    everTaken = true;
    showAll();
    look();
  };
}

open();
setInterval(look, GLANCE_MS);

// Knows: how the parts of the page are put together, and what is always at hand.
// Must never know: how any part does what it does.

import { $, attribute, make, say, show, write } from "./dom.js";
import { Evening } from "./evening.js";
import { Keys } from "./keys.js";
import { Link } from "./link.js";
import * as midi from "./midi.js";
import { Rig } from "./rig.js";
import { Teach } from "./teach.js";
import { Watch } from "./watch.js";

const rig = new Rig($("rig"), $("marks"));
const send = (message) => link.send(message);
const ask = (what, name, value) => link.ask(what, name, value);
const teach = new Teach({ send, marks: (names) => { rig.chosen = new Set(names.map((name) => indexOf.get(name))); rig.drawMarks(); } });
const watch = new Watch({ ask });
const evening = new Evening({ ask });
let facts, played = false, pedals = [], indexOf = new Map();

const keys = new Keys(({ note, source, channel }, velocity) => {
  send({ word: "note", note, velocity, source, channel });
  if (!played) { played = true; show($("hint"), false); }
});

// The keys show the same light as the window, steady where it is steady.
rig.onShown = (shown) => keys.light(shown);

// ---- the show

const link = new Link({
  facts(told) {
    facts = told;
    const { rig: { lamps, name }, mapping } = told;
    indexOf = new Map(lamps.map((lamp, i) => [lamp.name, i]));
    write($("rig-name"), name || "Lampwright");
    document.title = name ? `${name} · Lampwright` : "Lampwright";
    rig.setLamps(lamps);
    keys.setMapping(mapping, lamps);
    keys.light(rig.shown);
    teach.setFacts(told);
    evening.setFacts(told);
    hands.setFacts(told);
    show($("quay"), !told.view_only);
    for (const id of ["blackout", "release", "master"]) $(id).disabled = told.view_only;
    if (!played && !told.view_only) { write($("hint"), keys.hint()); show($("hint"), true); }
  },
  picture(drives) { rig.setDrives(drives); },
  news(changed, news) {
    if ("title" in changed) write($("song"), news.title ?? "");
    if ("still" in changed) weather(news.still ? "The show sends no pictures. It may have ended." : "");
    if ("blackout" in changed) darken(Boolean(news.blackout));
    if ("master" in changed) showMaster(news.master ?? 1);
    if ("look" in changed && heardLook !== undefined) say(news.look ? `look ${news.look}` : "no look");
    if ("look" in changed) heardLook = news.look;
    if ("events" in changed) teach.setEvents(news.events ?? []);
    if ("notices" in changed) attribute(document.querySelector("[data-sheet=watch]"), "data-news", (news.notices ?? []).length > 0);
    watch.setNews(news);
    evening.setNews(news);
  },
  reply(reply) {
    if (!$("teach").hidden) teach.reply(reply);
    else say(reply.lines.join(". "));
  },
  state(state) {
    keys.setOff(state !== "open");
    attribute(document.body, "data-link", state);
    weather({ open: "", lost: "The show is out of reach. Trying again …", elsewhere: "This show has a new link. Ask the player for it." }[state]);
    if (state === "open" && gone) say("The show is back");
    gone = state !== "open";
  },
});
let gone = false, heardLook;

function weather(text) {
  if (text && $("weather").textContent !== text) say(text);
  write($("weather"), text);
  show($("weather"), Boolean(text));
}

// ---- always at hand: blackout, release all, master

let dark = false, mine = 0;

function darken(on) {
  if (dark !== on) say(on ? "Blackout" : "The light is back");
  dark = on;
  attribute($("blackout"), "aria-pressed", on);
  write($("blackout-word"), on ? "Light again" : "Blackout");
  show($("dark"), on);
}

function showMaster(level) {
  // While a hand is on it, it shows the hand.
  if (performance.now() - mine < 600) return;
  const whole = Math.round(level * 100);
  if (Number($("master").value) !== whole) $("master").value = whole;
  write($("master-word"), `${whole} %`);
}

const toggleDark = () => { if (!facts?.view_only) ask(dark ? "blackout_off" : "blackout_on"); };
const releaseAll = () => { keys.letGo(); if (!facts?.view_only) ask("release_all"); };
$("blackout").onclick = toggleDark;
$("release").onclick = releaseAll;
let masterTimer = 0;
$("master").oninput = () => {
  mine = performance.now();
  write($("master-word"), `${$("master").value} %`);
  masterTimer ||= setTimeout(() => { masterTimer = 0; ask("master", "", Number($("master").value) / 100); }, 50);
};
addEventListener("keydown", (event) => {
  if (event.repeat || document.querySelector("dialog[open]")) return;
  const typing = event.target.closest?.("input:not([type=range],[type=checkbox],[type=radio]),textarea");
  if (event.key === "Escape") toggleDark();
  else if (event.key === "Backspace" && !typing) { event.preventDefault(); releaseAll(); }
  else if (event.key === "Shift") pedal(true);
});
addEventListener("keyup", (event) => { if (event.key === "Shift") pedal(false); });
addEventListener("blur", () => pedal(false));

/** The sustain pedal of every input the page plays as. */
function pedal(down) {
  const now = down && facts && !facts.view_only && !pedals.length
    ? [...new Map(facts.mapping.keys.map(({ source, channel }) => [`${source}/${channel}`, { source, channel }])).values()] : down ? pedals : [];
  for (const place of down ? now.filter(() => !pedals.length) : pedals) send({ word: "control", control: 64, value: down ? 127 : 0, ...place });
  pedals = now;
}

// ---- the sheets

const doors = [...document.querySelectorAll("[data-sheet]")];
function openSheet(name) {
  for (const door of doors) {
    const open = door.dataset.sheet === name && $(name).hidden;
    attribute(door, "aria-expanded", open);
    show($(door.dataset.sheet), open);
    if (open) document.body.dataset.sheet = name;
  }
  if (!doors.some((door) => door.getAttribute("aria-expanded") === "true")) delete document.body.dataset.sheet;
  teach.open = !$("teach").hidden;
  rig.chosen = new Set(teach.open ? [...teach.lamps].map((lamp) => indexOf.get(lamp)) : []);
  rig.drawMarks();
  if (teach.open) teach.draw();
  watch.setNews(link.news);
  evening.setNews(link.news);
}
for (const door of doors) door.onclick = () => openSheet(door.dataset.sheet);

// ---- lamps in the window: choose, drag, or light up while pressed

let pressed = -1, dragged;
const point = (event) => { const box = $("rig").getBoundingClientRect(); return [event.clientX - box.left, event.clientY - box.top]; };
$("window").addEventListener("pointerdown", (event) => {
  const i = facts ? rig.at(...point(event)) : -1;
  if (i < 0 || event.button > 0 || facts.view_only) return;
  const { name } = facts.rig.lamps[i];
  if (teach.dragging) {
    const owner = name.split(".")[0];
    rig.chosen = new Set(facts.rig.lamps.map((lamp, n) => [lamp, n]).filter(([lamp]) => lamp.name.split(".")[0] === owner).map(([, n]) => n));
    dragged = { name, from: point(event) };
  } else if (teach.open) return void teach.toggle(name);
  else { pressed = i; ask("light", name, 1); }
  $("window").setPointerCapture(event.pointerId);
});
$("window").addEventListener("pointermove", (event) => {
  const [x, y] = point(event);
  if (dragged) { rig.drag = [x - dragged.from[0], y - dragged.from[1]]; rig.drawMarks(); }
  if (event.pointerType === "mouse" || pressed >= 0) label(rig.at(x, y));
});
$("window").addEventListener("pointerleave", () => label(-1));
for (const end of ["pointerup", "pointercancel"]) $("window").addEventListener(end, () => {
  if (pressed >= 0) ask("light", facts.rig.lamps[pressed].name, 0);
  if (dragged && rig.drag && Math.hypot(...rig.drag) > 3) teach.move(dragged.name, rig.drag[0] / rig.scale, -rig.drag[1] / rig.scale);
  if (dragged) { rig.drag = undefined; rig.chosen = new Set([...teach.lamps].map((name) => indexOf.get(name))); rig.drawMarks(); }
  [pressed, dragged] = [-1, undefined];
});

function label(i) {
  show($("tag"), i >= 0);
  if (i < 0) return;
  write($("tag"), facts.rig.lamps[i].name);
  $("tag").style.left = `${rig.spots[i].x}px`;
  $("tag").style.top = `${rig.spots[i].y - rig.spots[i].radius - 8}px`;
}

// ---- hands: how the page itself is played

const hands = {
  build() {
    const check = (id, text, checked, change) => make("label", { class: "check" }, make("input", { type: "checkbox", id, checked, onchange: (event) => change(event.target.checked) }), make("span", {}, text));
    const strike = (value, text) => make("label", { class: "check" }, make("input", { type: "radio", name: "strike", value, checked: value === 92, onchange: () => { keys.strike = value; } }), make("span", {}, text));
    $("hands").append(make("h2", {}, "Hands"),
      make("p", { class: "note" }, "Press a key near its lower edge for a hard strike, a pad in its middle. Shift is the sustain pedal."),
      make("section", { "aria-label": "The computer's keys" }, make("h3", {}, "The computer's keys"),
        check("letters", "the letters play", true, (on) => { keys.letters = on; keys.letGo(); keys.layOut(true); }),
        make("div", { class: "line", role: "radiogroup", "aria-label": "How hard the letters strike" }, strike(52, "soft"), strike(92, "firm"), strike(122, "hard")),
        make("div", { class: "line" }, make("button", { type: "button", onclick: () => keys.move(-12) }, "An octave lower"), make("button", { type: "button", onclick: () => keys.move(12) }, "An octave higher"))),
      make("section", { "aria-label": "A keyboard plugged in here" }, make("h3", {}, "A keyboard plugged in here"),
        make("label", { class: "field", for: "plays-as" }, make("span", {}, "Plays as"), make("select", { id: "plays-as" })),
        make("button", { type: "button", id: "plug" }, "Listen to it"),
        make("p", { id: "plugged", class: "note" }, midi.here() ? "The browser will ask you first." : "This browser cannot: it must know Web MIDI, and look at this very computer.")),
      make("section", { "aria-label": "Light" }, make("h3", {}, "Light"), check("steady", "steady light on this page (nothing flashes)", false, (on) => rig.setSteady(on))));
    $("plug").disabled = !midi.here();
    $("plug").onclick = () => midi.listen((message) => send({ ...message, source: $("plays-as").value }), (text) => { write($("plugged"), text); say(text); })
      .then(() => { $("plug").disabled = true; }, () => write($("plugged"), "The browser did not allow it."));
  },
  setFacts({ mapping }) {
    const had = $("plays-as").value;
    $("plays-as").replaceChildren(...["", ...mapping.inputs].map((name) => make("option", { value: name }, name || "the page")));
    $("plays-as").value = mapping.inputs.includes(had) ? had : mapping.inputs[0] ?? "";
  },
};
hands.build();

// ---- the caution, before anything can flash

const memory = { get: () => { try { return sessionStorage.getItem("light"); } catch { return null; } }, set: (value) => { try { sessionStorage.setItem("light", value); } catch { /* asked again next time */ } } };
function light(choice) {
  const steady = choice !== "live";
  $("steady").checked = steady;
  rig.setSteady(steady);
  memory.set(choice);
  if ($("caution").open) $("caution").close();
}
$("caution-live").onclick = () => light("live");
$("caution-steady").onclick = () => light("steady");
$("caution").oncancel = () => light("steady");
if (memory.get()) light(memory.get());
else {
  $("caution").showModal();
  $("caution-steady").focus(); // what a thoughtless Enter takes is the safe one
}

// For tests and for the curious: what is drawn where.
window.lampwright = { rig, indexOf: (name) => indexOf.get(name) };

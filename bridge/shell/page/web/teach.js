// Knows: a lesson step by step: what was pressed, which lamps, how; moving and adding lamps.
// Must never know: how a rule is written, sockets.

import { $, fill, make, say, show, write } from "./dom.js";
import { nameOf } from "./keys.js";

const MODES = [["hold", "while it is held"], ["latch", "press on, press off"], ["shot", "ring out like a bell"]];
const option = (value, text = value) => make("option", { value }, text);

export class Teach {
  constructor({ send, marks }) {
    this.send = send;
    this.marks = marks;
    this.lamps = new Set();
    this.heard = [];
    this.open = false;
    this.build($("teach"));
  }

  build(sheet) {
    const field = (id, text, input) => make("label", { class: "field", for: id }, make("span", {}, text), input);
    const select = (id, ...options) => make("select", { id }, ...options);
    sheet.append(
      make("h2", {}, "Teach"),
      make("p", { id: "teach-none", class: "note", hidden: true }, "This show has no file of its own to write to. Start it with your own rig and mapping to teach it."),
      make("ol", { class: "steps" },
        make("li", {}, make("h3", {}, "Press a key, a pad or a knob"), make("p", { class: "note" }, "Here or on your instrument; the last ones heard:"),
          make("div", { id: "teach-heard", class: "chips", role: "radiogroup", "aria-label": "What was pressed" }),
          make("label", { class: "check" }, make("input", { type: "checkbox", id: "teach-only", checked: true }), make("span", { id: "teach-from" }, "from this input alone"))),
        make("li", {}, make("h3", {}, "Click lamps in the window"), make("div", { id: "teach-lamps", class: "chips" }),
          make("div", { class: "line" }, make("input", { id: "teach-name", list: "lamp-names", "aria-label": "Lamp or group by name", placeholder: "or by name", autocomplete: "off" }),
            make("button", { type: "button", onclick: () => this.named() }, "Add"),
            make("button", { type: "button", onclick: () => { this.lamps.clear(); this.changed(); } }, "Clear")),
          make("datalist", { id: "lamp-names" })),
        make("li", {}, make("h3", {}, "Say what it does"),
          field("teach-then", "It", select("teach-then")),
          make("div", { id: "teach-how" },
            field("teach-mode", "Lit", select("teach-mode", ...MODES.map((mode) => option(...mode)))),
            field("teach-feel", "Feel", select("teach-feel"))),
          make("div", { id: "teach-span", class: "line" },
            field("teach-low", "Softest %", make("input", { id: "teach-low", type: "number", min: 0, max: 100, value: 15 })),
            field("teach-high", "Hardest %", make("input", { id: "teach-high", type: "number", min: 0, max: 100, value: 100 }))))),
      make("div", { class: "line" }, make("button", { type: "button", id: "teach-write", class: "strong", onclick: () => this.write() }, "Write the rule"),
        make("button", { type: "button", id: "teach-undo", onclick: () => this.send({ word: "undo" }) }, "Take it back")),
      make("div", { id: "teach-answer", class: "answer", hidden: true }),
      make("details", { id: "teach-hang" }, make("summary", {}, "Move lamps, hang a new one"),
        make("label", { class: "check" }, make("input", { type: "checkbox", id: "teach-drag" }), make("span", {}, "drag lamps in the window (a grid or a head moves as a whole)")),
        make("div", { class: "line" },
          make("button", { type: "button", "aria-label": "Chosen lamp to the left", onclick: () => this.nudge(-0.1, 0) }, "←"),
          make("button", { type: "button", "aria-label": "Chosen lamp to the right", onclick: () => this.nudge(0.1, 0) }, "→"),
          make("button", { type: "button", "aria-label": "Chosen lamp up", onclick: () => this.nudge(0, 0.1) }, "↑"),
          make("button", { type: "button", "aria-label": "Chosen lamp down", onclick: () => this.nudge(0, -0.1) }, "↓"),
          make("span", { class: "note" }, "the chosen lamp by 10 cm")),
        make("div", { class: "grid2" },
          field("new-name", "Name", make("input", { id: "new-name", autocomplete: "off" })),
          field("new-slot", "Slot", make("input", { id: "new-slot", type: "number", min: 1, max: 512 })),
          field("new-universe", "Universe", make("input", { id: "new-universe", type: "number", min: 1, max: 63999, value: 1 })),
          field("new-kind", "Type", select("new-kind")),
          field("new-supply", "Supply", select("new-supply")),
          field("new-colour", "Colour", make("input", { id: "new-colour", placeholder: "white", autocomplete: "off" })),
          field("new-x", "Metres right", make("input", { id: "new-x", type: "number", step: 0.1, value: 0 })),
          field("new-y", "Metres up", make("input", { id: "new-y", type: "number", step: 0.1, value: 0 }))),
        make("div", { class: "line" }, make("button", { type: "button", onclick: () => this.hang() }, "Hang it")),
        make("p", { class: "note" }, "A new lamp lights when the show is started again.")));
    $("teach-then").onchange = () => this.fit();
    $("teach-name").onkeydown = (event) => { if (event.key === "Enter") this.named(); };
    this.fit();
  }

  setFacts({ rig, mapping, teaches, view_only }) {
    this.rig = rig;
    this.mapping = mapping;
    const may = !view_only && (teaches.mapping || teaches.rig);
    show($("teach-none"), !may);
    for (const part of $("teach").querySelectorAll("ol,.line,details")) show(part, may);
    const thens = [["light", "lights the lamps"], ["level", "sets their level"], ["master", "is the master"], ["blackout", "makes a blackout"],
      ["release_all", "releases all"], ...mapping.looks.map((look) => [`look/${look}`, `calls the look ${look}`]), ["look/", "takes the look away"]];
    this.choices($("teach-then"), thens);
    this.choices($("teach-feel"), [["", "as the mapping says"], ...mapping.feels.map((feel) => [feel, feel])]);
    this.choices($("new-kind"), [["", "—"], ...rig.kinds.map((kind) => [kind, kind])]);
    this.choices($("new-supply"), [["", "—"], ...rig.supplies.map((supply) => [supply, supply])]);
    if (!$("new-slot").value) $("new-slot").value = Object.values(rig.free)[0] ?? 1;
    fill($("lamp-names"), JSON.stringify([rig.groups, rig.lamps.length]), () => [...Object.keys(rig.groups), ...rig.lamps.map((lamp) => lamp.name)].slice(0, 2000).map((name) => option(name)));
    this.fit();
  }

  choices(select, pairs) {
    const had = select.value;
    fill(select, JSON.stringify(pairs), () => pairs.map((pair) => option(...pair)));
    if (pairs.some(([value]) => value === had)) select.value = had;
  }

  /** Arrivals, the newest last: what can be taught is offered, the newest first, each once. */
  setEvents(events) {
    const found = new Map();
    for (const event of [...events].reverse()) if (event.kind) found.set(`${event.kind}/${event.number}/${event.source}/${event.channel}`, event);
    const heard = [...found].slice(0, 4);
    // What was chosen stays on offer.
    if (this.on && this.pinned && !found.has(this.on[0])) heard.push(this.on);
    this.heard = heard;
    if (!this.pinned) this.on = heard[0];
    if (this.open) this.draw();
  }

  draw() {
    fill($("teach-heard"), JSON.stringify([this.heard.map(([key]) => key), this.on?.[0]]), () => this.heard.length
      ? this.heard.map(([key, event]) => make("button", { type: "button", role: "radio", class: "chip", "data-is": key, "aria-checked": String(key === this.on?.[0]),
        onclick: () => { this.on = [key, event]; this.pinned = true; this.draw(); this.fit(); } }, this.spell(event)))
      : [make("span", { class: "note" }, "nothing yet")]);
    write($("teach-from"), this.on?.[1].source ? `from ${this.on[1].source} alone` : "from this input alone");
    show($("teach-only").parentElement, Boolean(this.on?.[1].source));
    fill($("teach-lamps"), JSON.stringify([...this.lamps]), () => this.lamps.size
      ? [...this.lamps].map((name) => make("button", { type: "button", class: "chip", "data-is": name, "aria-label": `take ${name} out`, onclick: () => this.toggle(name) }, `${name} ×`))
      : [make("span", { class: "note" }, "none chosen")]);
    this.fit();
  }

  spell(event) {
    const what = event.kind === "note" ? nameOf(event.number) : event.kind === "control" ? `knob ${event.number}` : event.kind;
    return event.source ? `${what} · ${event.source}` : what;
  }

  fit() {
    const then = $("teach-then").value, note = this.on?.[1].kind === "note";
    for (const choice of $("teach-then").options) choice.disabled = this.on ? (choice.value === "light" ? !note : ["level", "master"].includes(choice.value) && note) : false;
    if ($("teach-then").selectedOptions[0]?.disabled) { $("teach-then").value = note ? "light" : "level"; return void this.fit(); }
    show($("teach-how"), then === "light");
    show($("teach-span"), then === "light" || then === "level");
  }

  toggle(name) {
    if (!this.lamps.delete(name)) this.lamps.add(name);
    this.changed();
  }

  changed() {
    this.marks([...this.lamps]);
    this.draw();
  }

  named() {
    const name = $("teach-name").value.trim();
    const found = this.rig.groups[name]?.map((i) => this.rig.lamps[i].name) ?? this.rig.lamps.filter((lamp) => lamp.name === name).map((lamp) => lamp.name);
    if (!found.length) return void this.answer(false, [`there is no lamp or group called ${name || "that"}`]);
    for (const lamp of found) this.lamps.add(lamp);
    $("teach-name").value = "";
    this.changed();
  }

  write() {
    if (!this.on) return void this.answer(false, ["press a key, a pad or a knob first"]);
    const event = this.on[1];
    const [then, look] = $("teach-then").value.split(/\/(.*)/);
    const share = (id) => Math.min(1, Math.max(0, Number($(id).value) / 100 || 0));
    const wide = then === "light" || then === "level";
    this.send({ word: "teach", kind: event.kind, number: event.number, source: $("teach-only").checked ? event.source : "", then,
      lamps: wide ? [...this.lamps] : [], look: look ?? "", mode: then === "light" ? $("teach-mode").value : "hold",
      feel: then === "light" ? $("teach-feel").value : "", low: wide ? share("teach-low") : 0, high: wide ? share("teach-high") : 1 });
  }

  nudge(right, up) {
    const lamp = [...this.lamps][0];
    if (!lamp) return void this.answer(false, ["choose a lamp first"]);
    this.move(lamp, right, up);
  }

  move(lamp, right, up) { this.send({ word: "move", lamp, right, up }); }

  hang() {
    const number = (id) => Number($(id).value) || 0;
    this.send({ word: "patch", name: $("new-name").value.trim(), slot: Math.max(1, number("new-slot")), universe: Math.max(1, number("new-universe")), x: number("new-x"), y: number("new-y"),
      kind: $("new-kind").value, supply: $("new-supply").value, colour: $("new-colour").value.trim() });
  }

  reply({ ok, lines, about }) {
    this.answer(ok, lines);
    if (ok && about === "teach") { this.pinned = false; this.lamps.clear(); this.changed(); }
    if (ok && about === "patch") { $("new-name").value = ""; $("new-slot").value = ""; }
  }

  answer(ok, lines) {
    $("teach-answer").dataset.ok = ok;
    show($("teach-answer"), true);
    $("teach-answer").replaceChildren(...lines.map((line) => make("p", {}, line)));
    $("teach-answer").scrollIntoView({ block: "nearest" });
    say(lines.join(". "));
  }

  get dragging() { return this.open && $("teach-drag").checked; }
}

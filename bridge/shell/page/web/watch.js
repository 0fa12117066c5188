// Knows: how what is going on is shown: arrivals, the chord, the clock, outputs, guards, supplies, mistakes.
// Must never know: sockets, how any of it was measured.

import { $, bar, fill, make, show } from "./dom.js";

const part = (id, title) => make("section", { id, "aria-label": title }, make("h3", {}, title), make("div", {}));
const put = (id, key, build) => fill($(id).lastElementChild, JSON.stringify(key), build);
const line = (...children) => make("p", {}, ...children);

export class Watch {
  constructor({ ask }) {
    this.ask = ask;
    $("watch").append(make("h2", {}, "Watch"), part("w-notices", "What you should know"), part("w-chord", "Chord"), part("w-events", "What arrives"),
      part("w-clock", "Pictures"), part("w-loads", "Supplies"), part("w-guards", "Guards"), part("w-outputs", "Outputs"), part("w-find", "Find a lamp"));
    this.name = make("input", { list: "lamp-names", "aria-label": "Lamp by name", placeholder: "its name", autocomplete: "off" });
    const light = make("button", { type: "button" }, "Light it while held");
    const on = () => { this.lit = this.name.value.trim(); if (this.lit) this.ask("light", this.lit, 1); };
    const off = () => { if (this.lit) this.ask("light", this.lit, 0); this.lit = ""; };
    light.onpointerdown = on;
    light.onkeydown = (event) => { if (!event.repeat && (event.key === " " || event.key === "Enter")) on(); };
    for (const end of ["pointerup", "pointerleave", "keyup", "blur"]) light.addEventListener(end, off);
    $("w-find").lastElementChild.append(make("div", { class: "line" }, this.name, light), make("p", { class: "note" }, "Or press the lamp in the window."));
  }

  setNews(news) {
    this.news = news;
    if ($("watch").hidden) return;
    const notices = news.notices ?? [];
    show($("w-notices"), notices.length > 0);
    put("w-notices", notices, () => notices.map((notice) => make("p", { class: "notice" }, notice)));
    const chord = news.chord ?? {};
    put("w-chord", chord, () => [line(make("strong", {}, chord.name || "no chord"), chord.shape ? ` draws ${chord.shape}` : "")]);
    this.events(news.events ?? []);
    this.clock(news);
    this.loads(news.loads ?? []);
    this.guards(news.guards ?? []);
    const outputs = news.outputs ?? [];
    put("w-outputs", outputs, () => outputs.length
      ? outputs.map((output) => line(make("span", { class: "state", "data-state": output.state }, output.state), ` ${output.name}`, output.note ? make("span", { class: "note" }, ` ${output.note}`) : null))
      : [make("p", { class: "note" }, "Nothing leaves this machine; the rig names no output.")]);
  }

  events(events) {
    put("w-events", events, () => events.length ? [make("table", {},
      make("thead", {}, make("tr", {}, ...["Port", "Ch", "What", "Rule"].map((head) => make("th", { scope: "col" }, head)))),
      make("tbody", {}, ...[...events].reverse().map((event) => make("tr", { class: event.heard ? "" : "unheard" },
        make("td", {}, event.port), make("td", {}, String(event.channel)), make("td", {}, event.what), make("td", {}, event.heard ? "plays" : "no rule")))))]
      : [make("p", { class: "note" }, "Nothing has arrived yet.")]);
  }

  clock(news) {
    const [usual, worst] = news.late_ms ?? [];
    const lines = [`${news.refresh ?? "?"} a second`];
    if (usual !== undefined) lines.push(`late by ${usual.toFixed(1)} ms as a rule, ${worst.toFixed(1)} ms at worst in a hundred`);
    lines.push(news.skipped ? `${news.skipped} left out` : "none left out");
    if (news.frame_errors) lines.push(`${news.frame_errors} could not be made; the one before was kept`);
    if (news.page) lines.push(`${news.page.browsers} ${news.page.browsers === 1 ? "browser looks" : "browsers look"}, ${news.page.refused} refused`);
    put("w-clock", lines, () => lines.map((text) => line(text)));
  }

  loads(loads) {
    show($("w-loads"), loads.length > 0);
    put("w-loads", loads, () => loads.map(({ supply, amps, limit }) =>
      bar(supply, limit ? amps / limit : 0, `${amps.toFixed(1)} of ${limit} A`, amps > limit ? "over" : "")));
  }

  guards(guards) {
    show($("w-guards"), guards.length > 0);
    put("w-guards", guards, () => guards.map(({ name, mode, held, times }) =>
      bar(`${name} · ${mode}`, held, `holds back ${Math.round(held * 100)} %, ${times}×`, held > 0.005 ? "busy" : "")));
  }
}

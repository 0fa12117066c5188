// Knows: how an evening is run: looks, the set list, recording, takes.
// Must never know: sockets, files.

import { $, attribute, fill, make, show, write } from "./dom.js";

const clock = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;
const part = (id, title) => make("section", { id, "aria-label": title }, make("h3", {}, title), make("div", {}));
const put = (id, key, build) => fill($(id).lastElementChild, JSON.stringify(key), build);

export class Evening {
  constructor({ ask }) {
    this.ask = ask;
    $("evening").append(make("h2", {}, "Evening"), part("e-looks", "Looks"), part("e-set", "Songs of the evening"), part("e-record", "Record"), part("e-takes", "Takes"));
  }

  setFacts({ mapping, charts }) {
    this.charts = charts;
    this.mapping = mapping;
    if (this.news) this.setNews(this.news);
  }

  setNews(news) {
    this.news = news;
    if ($("evening").hidden || !this.mapping) return;
    this.looks(news);
    this.songs(news);
    this.takes(news);
  }

  button(text, what, name = "", more = {}) {
    const { value = 0, ...rest } = more;
    return make("button", { type: "button", "data-is": `${what}/${name}`, onclick: () => this.ask(what, name, value), ...rest }, text);
  }

  looks(news) {
    const looks = this.mapping.looks;
    show($("e-looks"), looks.length > 0);
    put("e-looks", [looks, news.look], () => [
      make("div", { class: "chips" }, ...["", ...looks].map((look) => make("button", { type: "button", class: "chip", "data-is": look, "aria-pressed": String(news.look === look),
        onclick: () => this.ask("look", look, Number($("fade").value) || 0) }, look || "no look"))),
      make("label", { class: "field", for: "fade" }, make("span", {}, "Fade, seconds"), make("input", { id: "fade", type: "number", min: 0, max: 600, step: 0.5, value: $("fade")?.value ?? 2, "data-is": "fade" }))]);
  }

  /** news.set: {songs: [names], at, playing}; news.song: {name, at, length} in seconds. */
  songs(news) {
    const set = news.set, song = news.song;
    show($("e-set"), Boolean(set || song));
    put("e-set", [set, song?.name, song?.length], () => [
      song ? make("p", {}, make("strong", {}, song.name ?? ""), " ", make("span", { id: "e-clock" }), " ") : null,
      song?.length ? make("progress", { id: "e-way", max: song.length, "aria-label": "Song position" }) : null,
      set ? make("ol", { class: "songs" }, ...set.songs.map((name, i) => make("li", i === set.at ? { "aria-current": "true" } : {}, name))) : null,
      set ? make("div", { class: "line" }, this.button("Previous", "set_previous"), this.button("Next", "set_next"),
        set.playing ? this.button("Stop", "set_stop") : this.button("Start", "set_start", "", { class: "strong" })) : null].filter(Boolean));
    if (song && $("e-clock")) write($("e-clock"), song.length ? `${clock(song.at)} of ${clock(song.length)}` : clock(song.at));
    if ($("e-way")) attribute($("e-way"), "value", Math.round(song.at));
  }

  /** news.take: {recording, seconds, replaying, loop}; news.takes: [{number, name, seconds, notes}]. */
  takes(news) {
    const take = news.take, takes = news.takes;
    show($("e-record"), Boolean(take));
    show($("e-takes"), Boolean(takes));
    if (take) put("e-record", [take.recording, take.replaying, take.loop], () => [make("div", { class: "line" },
      take.recording === undefined ? null : take.recording ? this.button("Stop recording", "record_off") : this.button("Record", "record_on", "", { class: "strong" }),
      take.replaying ? this.button("Stop the replay", "replay_stop") : null,
      take.loop === undefined ? null : this.button(take.loop ? "Loop is on" : "Loop is off", take.loop ? "loop_off" : "loop_on", "", { "aria-pressed": String(take.loop) })),
    make("p", { id: "e-seconds", class: "note" })]);
    if (take) write($("e-seconds"), take.recording ? `recording, ${clock(take.seconds ?? 0)}` : take.replaying ? `replaying ${take.replaying}, ${clock(take.seconds ?? 0)}` : "");
    if (takes) put("e-takes", [takes, this.charts], () => takes.length ? [...takes].reverse().map((one) => make("article", { class: "take" },
      make("p", {}, make("strong", {}, one.name), ` ${clock(one.seconds ?? 0)}${one.notes === undefined ? "" : `, ${one.notes} notes`}`),
      this.charts ? make("img", { src: `/chart/${one.number}?of=${one.seconds}`, alt: `The lamps of ${one.name} over time`, loading: "lazy" }) : null,
      this.button("Replay", "replay", String(one.number)))) : [make("p", { class: "note" }, "Nothing was recorded yet.")]);
  }
}

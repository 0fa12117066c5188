// Knows: how the page is written to: only what changed, and always as text.
// Must never know: what anything means.

export const $ = (id) => document.getElementById(id);

/** Make an element: properties (`class`, `data-…` and `aria-…` as attributes, `on…` as listeners), then children. */
export function make(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [key, value] of Object.entries(properties)) {
    if (value === undefined || value === false) continue;
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else element.setAttribute(key, value === true ? "" : value);
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

export function write(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

export function show(element, shown) {
  if (element.hidden === shown) element.hidden = !shown;
}

export function attribute(element, name, value) {
  if (element.getAttribute(name) !== String(value)) element.setAttribute(name, value);
}

/** Put children in place of what is there, unless the same were put there before (judged by `key`). */
export function fill(element, key, build) {
  if (element.filledBy === key) return;
  element.filledBy = key;
  // Focus stays where it was, if what had it is made again.
  const had = element.contains(document.activeElement) ? document.activeElement.dataset.is : undefined;
  element.replaceChildren(...build());
  if (had) [...element.querySelectorAll("[data-is]")].find((child) => child.dataset.is === had)?.focus();
}

/** Tell those who listen rather than look; the same twice in a row is said again. */
export function say(text) {
  const line = $("say");
  line.textContent = line.textContent === text ? `${text}\u00a0` : text;
}

/** A bar with its value in words. */
export function bar(label, share, words, state = "") {
  const whole = Math.round(Math.min(1, Math.max(0, share)) * 100);
  const fillBar = make("span", { class: "bar-fill" });
  fillBar.style.width = `${whole}%`;
  return make("div", { class: "bar-row", "data-state": state },
    make("span", { class: "bar-name" }, label),
    make("span", { class: "bar", role: "meter", "aria-label": label, "aria-valuemin": "0", "aria-valuemax": "100",
      "aria-valuenow": whole, "aria-valuetext": words }, fillBar),
    make("span", { class: "bar-words" }, words));
}

// Small tools for making nodes. Text is always set as text, never as markup.

type Child = Node | string | null;
type Attributes = Record<string, string | number | boolean | undefined>;

function fill(node: Element, attributes: Attributes, children: Child[]): void {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === undefined || value === false) continue;
    node.setAttribute(name, value === true ? "" : String(value));
  }
  node.append(...children.filter((c): c is Node | string => c !== null));
}

/** el makes an HTML element. */
export function el<K extends keyof HTMLElementTagNameMap>(tag: K, attributes: Attributes = {}, ...children: Child[]): HTMLElementTagNameMap[K] {
  const node = document.createElement(tag);
  fill(node, attributes, children);
  return node;
}

/** svg makes an element of a drawing. */
export function svg(tag: string, attributes: Attributes = {}, ...children: Child[]): SVGElement {
  const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
  fill(node, attributes, children);
  return node;
}

/** button makes a button that does something. */
export function button(label: string, press: () => void, attributes: Attributes = {}): HTMLButtonElement {
  const node = el("button", { type: "button", ...attributes }, label);
  node.addEventListener("click", press);
  return node;
}

/** byID returns an element that index.html has. */
export function byID(id: string): HTMLElement {
  const node = document.getElementById(id);
  if (!node) throw new Error(`index.html has no #${id}`);
  return node;
}

let keys = new WeakMap<Element, string>();

/**
 * keyed puts new children into a node only when the key has changed, so that a
 * button stays the same button while it is being pressed. Where what has the focus is
 * made anew, and has an id, it has it again.
 */
export function keyed(node: Element, key: string, make: () => Child[]): void {
  if (keys.get(node) === key) return;
  keys.set(node, key);
  const focused = node.contains(document.activeElement) ? document.activeElement?.id : "";
  node.replaceChildren(...make().filter((c): c is Node | string => c !== null));
  if (focused) document.getElementById(focused)?.focus();
}

/** forgetKeys has everything that is keyed made anew: what its key does not hold has changed. */
export function forgetKeys(): void {
  keys = new WeakMap();
}

/** setText sets a node's text if it differs. */
export function setText(node: Element, text: string): void {
  if (node.textContent !== text) node.textContent = text;
}

/** table makes a table with a caption. */
export function table(caption: string, columns: string[], rows: string[][], attributes: Attributes = {}): HTMLTableElement {
  const body = rows.map((cells) => el("tr", {}, ...cells.map((c, i) => (i === 0 ? el("th", { scope: "row" }, c) : el("td", {}, c)))));
  return el("table", attributes, el("caption", {}, caption),
    el("thead", {}, el("tr", {}, ...columns.map((c) => el("th", { scope: "col" }, c)))), el("tbody", {}, ...body));
}

/** choice makes a list to choose from, with the texts that stand for its values. */
export function choice(label: string, options: [value: string, text: string][], chosen = ""): HTMLSelectElement {
  return el("select", { "aria-label": label }, ...options.map(([value, text]) => el("option", { value, selected: value === chosen }, text)));
}

/** Amount is a number that is set by steps, for thumbs. */
export interface Amount {
  node: HTMLElement;
  value(): number;
  reset(): void; // to what it was at first
}

/** amount makes an Amount between two bounds. */
export function amount(label: string, from: number, step: number, [least, most]: [number, number], say: (n: number) => string): Amount {
  let n = from;
  const shown = el("output", { "aria-label": label }, say(n));
  const set = (to: number): void => {
    n = to;
    setText(shown, say(n));
  };
  const by = (change: number) => (): void => set(Math.min(most, Math.max(least, n + change)));
  const node = el("span", { class: "amount" }, button("−", by(-step), { "aria-label": `${label}: less` }), shown, button("+", by(step), { "aria-label": `${label}: more` }));
  return { node, value: () => n, reset: () => set(from) };
}

/** group puts what belongs together under a name. */
export function group(name: string, ...children: Child[]): HTMLElement {
  return el("div", { class: "group", role: "group", "aria-label": name }, el("h3", {}, name), ...children);
}

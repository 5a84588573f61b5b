// A part of the page that opens and shuts. Shut, it says in a few words what is in
// it; what is in it is only made while it is open.

import { el, keyed, setText } from "./dom";
import { standing } from "./standing";
import type { View } from "./state";

/** Content fills a fold from a view, again with every view. */
export type Content = (root: HTMLElement, v: View) => void;

/** Step is how a fold stands that is something to be done: a shape and a word, beside its title. */
export type Step = "open" | "good" | "wrong";

/** Fold is one such part. */
export class Fold {
  readonly node: HTMLDetailsElement;
  private readonly said = el("span", { class: "gist" });
  private readonly stands = el("span", { class: "stands" });
  private readonly body = el("div");
  private newest: View | null = null;

  constructor(
    title: string,
    private readonly gist: (v: View) => string,
    private readonly content: Content,
    private readonly step?: (v: View) => Step,
  ) {
    this.node = el("details", { class: "fold" }, el("summary", {}, step ? this.stands : null, el("span", { class: "title" }, title), " ", this.said), this.body);
    this.node.addEventListener("toggle", () => this.refresh());
  }

  /** show takes in a new view. */
  show(v: View): void {
    this.newest = v;
    setText(this.said, this.gist(v));
    const now = this.step?.(v);
    if (now) keyed(this.stands, now, () => standing(now));
    this.refresh();
  }

  private refresh(): void {
    if (this.node.open && this.newest) this.content(this.body, this.newest);
  }
}

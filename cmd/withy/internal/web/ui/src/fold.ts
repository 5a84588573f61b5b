// A part of the page that opens and shuts. Shut, it says in a few words what is in
// it; what is in it is only made while it is open.

import { el, setText } from "./dom";
import type { View } from "./state";

/** Content fills a fold from a view, again with every view. */
export type Content = (root: HTMLElement, v: View) => void;

/** Fold is one such part. */
export class Fold {
  readonly node: HTMLDetailsElement;
  private readonly said = el("span", { class: "gist" });
  private readonly body = el("div");
  private newest: View | null = null;

  constructor(
    title: string,
    private readonly gist: (v: View) => string,
    private readonly content: Content,
  ) {
    this.node = el("details", { class: "fold" }, el("summary", {}, el("span", { class: "title" }, title), " ", this.said), this.body);
    this.node.addEventListener("toggle", () => this.refresh());
  }

  /** show takes in a new view. */
  show(v: View): void {
    this.newest = v;
    setText(this.said, this.gist(v));
    this.refresh();
  }

  private refresh(): void {
    if (this.node.open && this.newest) this.content(this.body, this.newest);
  }
}

// Building the page out of elements. Text goes in as text nodes and attributes by
// name, so that nothing that came out of the book is ever read as HTML.

export type Child = Node | string | number | null | undefined | false;
type Listener = (event: never) => void;
export type Attributes = Record<string, string | number | boolean | null | undefined | Listener>;

const svgSpace = "http://www.w3.org/2000/svg";

/** Makes an HTML element. Attributes that begin with "on" are listeners. */
export function h<K extends keyof HTMLElementTagNameMap>(tag: K, attributes: Attributes = {}, ...children: Child[]): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  fill(element, attributes, children);
  return element;
}

/** Makes an SVG element. */
export function svg<K extends keyof SVGElementTagNameMap>(tag: K, attributes: Attributes = {}, ...children: Child[]): SVGElementTagNameMap[K] {
  const element = document.createElementNS(svgSpace, tag);
  fill(element, attributes, children);
  return element;
}

function fill(element: Element, attributes: Attributes, children: Child[]): void {
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") element.addEventListener(name.slice(2), value as EventListener);
    else set(element, name, value);
  }
  for (const child of children) {
    if (child !== null && child !== undefined && child !== false) element.append(typeof child === "number" ? String(child) : child);
  }
}

/** Sets or takes away an attribute, and touches nothing where it is as it was. */
export function set(element: Element, name: string, value: string | number | boolean | null | undefined): void {
  if (value === null || value === undefined || value === false) {
    if (element.hasAttribute(name)) element.removeAttribute(name);
    return;
  }
  const text = value === true ? "" : String(value);
  if (element.getAttribute(name) !== text) element.setAttribute(name, text);
}

/** Puts a text into an element, and touches nothing where it is as it was. */
export function say(element: Element, text: string): void {
  if (element.textContent !== text) element.textContent = text;
}

/** Shows or hides an element. */
export function show(element: HTMLElement | SVGElement, shown: boolean): void {
  set(element, "hidden", !shown);
}

/** A thing on the page that is kept up to date. */
export interface Part<T> {
  element: HTMLElement;
  update(item: T): void;
}

/** Keeps one part for each item of a list, in the list's order. Parts that stay are
 * not moved out of the document, so that what is focused stays focused. */
export class Parts<T> {
  private readonly parts = new Map<string, Part<T>>();

  constructor(
    private readonly within: HTMLElement,
    private readonly keyOf: (item: T) => string,
    private readonly make: (item: T) => Part<T>,
  ) {}

  update(items: readonly T[]): void {
    const wanted = new Set(items.map(this.keyOf));
    for (const [key, part] of this.parts) {
      if (wanted.has(key)) continue;
      part.element.remove();
      this.parts.delete(key);
    }
    let before: Element | null = this.within.firstElementChild;
    for (const item of items) {
      const key = this.keyOf(item);
      let part = this.parts.get(key);
      if (!part) this.parts.set(key, (part = this.make(item)));
      part.update(item);
      if (part.element === before) before = before.nextElementSibling;
      else this.within.insertBefore(part.element, before);
    }
  }

  get(key: string): Part<T> | undefined {
    return this.parts.get(key);
  }
}

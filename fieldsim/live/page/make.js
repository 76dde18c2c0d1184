// Elements of the page: found, and made.

/** @param {string} id @returns {any} */
export const by = (id) => document.getElementById(id);

/**
 * A new element; of many kinds, so that its type says little.
 * @param {string} tag
 * @param {Record<string, unknown>} [with_]
 * @param {(Node|string)[]} children
 * @returns {any}
 */
export function make(tag, with_ = {}, ...children) {
  /** @type {any} */ const made = document.createElement(tag);
  for (const [name, value] of Object.entries(with_)) {
    if (name.startsWith("data-") || name.startsWith("aria-") || name === "for" || name === "scope")
      made.setAttribute(name, String(value));
    else made[name] = value;
  }
  made.append(...children);
  return made;
}

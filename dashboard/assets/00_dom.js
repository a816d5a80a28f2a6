/* Elements made from data. Text from data only ever becomes text; addresses stay on this server. */
(function () {
  "use strict";
  const isohume = (window.isohume = window.isohume || {});

  const allowed = { href: (value) => value.startsWith("/") && !value.startsWith("//"), src: (value) => value.startsWith("data:image/svg+xml,") };

  /** Make an element: attributes by name, children as text or elements; null children are left out. */
  isohume.element = (tag, attributes, ...children) => {
    const made = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes || {})) {
      if (value === null || value === undefined || value === false) continue;
      if (name.startsWith("on") || (allowed[name] && !allowed[name](value))) throw new Error("refused attribute " + name);
      made.setAttribute(name, value);
    }
    made.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== ""));
    return made;
  };

  /** Follow a link within these pages without loading them anew; other clicks (new tab, window) stay the browser's. */
  isohume.followWithin = (container) => {
    container.addEventListener("click", (event) => {
      const link = event.target.closest("a[href]");
      if (!link || event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
      event.preventDefault();
      window.dash_clientside.set_props("url", { pathname: link.getAttribute("href"), search: "", hash: "" });
      window.scrollTo(0, 0);
    });
  };
})();

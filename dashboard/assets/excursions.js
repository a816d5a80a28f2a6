/* The list of excursions: a decade can hold thousands, of which the newest are shown at first. */
(function () {
  "use strict";
  const isohume = window.isohume;
  const element = isohume.element;
  const NUMERIC = [3, 4, 5];

  const row = (excursion) => {
    const show = element("button", { type: "button", class: "text-button", "aria-label": "Show the excursion of " + excursion.cells[1] + " in the record" }, "show");
    show.addEventListener("click", () => window.dash_clientside.set_props("frame-asked", { data: [...excursion.stretch, Date.now()] }));
    return element("tr", {},
      excursion.cells.map((cell, place) => element("td", { class: NUMERIC.includes(place) ? "number" : null }, cell)),
      element("td", {}, show));
  };

  isohume.drawExcursions = (list) => {
    if (!list) return;
    const container = document.getElementById("frame-excursions");
    if (!container) {
      window.requestAnimationFrame(() => isohume.drawExcursions(list)); // not on the page yet
      return;
    }
    const draw = (shown) => {
      const caption = shown < list.rows.length ? shown + " newest of " + list.rows.length + " excursions" : list.rows.length + " excursions, newest first";
      const table = element("table", {},
        element("caption", {}, caption),
        element("thead", {}, element("tr", {}, list.headings.map((text, place) => element("th", { scope: "col", class: NUMERIC.includes(place) ? "number" : null }, text)))),
        element("tbody", {}, list.rows.slice(0, shown).map(row)));
      const scroll = element("div", { class: "table-scroll", tabindex: "0", role: "region", "aria-label": caption }, table);
      const more = list.rows.length - shown;
      const button = more > 0 ? element("button", { type: "button", class: "text-button" }, "Show " + more + " older") : null;
      if (button) button.addEventListener("click", () => draw(list.rows.length));
      container.replaceChildren(...[scroll, button && element("p", { class: "older" }, button)].filter(Boolean));
    };
    draw(Math.min(list.at_first, list.rows.length));
  };
})();

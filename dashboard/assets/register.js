/* The register's lists, searched and sorted here; and files sent from a place that says where they go. */
(function () {
  "use strict";
  const isohume = window.isohume;
  const element = isohume.element;
  const MOST_AT_ONCE = 2000;
  const order = { column: null, down: false };

  const compare = (column, down) => (a, b) => {
    const one = a.keys[column], other = b.keys[column];
    const found = typeof one === "number" && typeof other === "number" ? one - other : String(one).localeCompare(String(other), "en", { numeric: true });
    return down ? -found : found;
  };

  const head = (list, redraw) =>
    element("tr", {}, list.headings.map((name, column) => {
      const button = element("button", { type: "button", class: "sort" }, name, element("span", { "aria-hidden": "true" }, order.column === column ? (order.down ? " ↓" : " ↑") : ""));
      button.addEventListener("click", () => {
        order.down = order.column === column && !order.down;
        order.column = column;
        redraw();
        const again = document.querySelectorAll("#register-list .sort")[column];
        if (again) again.focus();
      });
      const sorted = order.column !== column ? null : order.down ? "descending" : "ascending";
      return element("th", { scope: "col", "aria-sort": sorted }, button);
    }));

  const row = (list) => (record) =>
    element("tr", {}, record.cells.map((cell, place) => element(place ? "td" : "th", place ? { "data-label": list.headings[place], class: cell === "–" ? "none" : null } : { scope: "row" }, place ? cell : element("a", { href: record.href }, cell))));

  isohume.drawRegister = (list, q) => {
    if (!list) return;
    const container = document.getElementById("register-list");
    if (!container) {
      window.requestAnimationFrame(() => isohume.drawRegister(list, q)); // not on the page yet
      return;
    }
    if (!container.dataset.follows) {
      isohume.followWithin(container);
      container.dataset.follows = "yes";
      order.column = null;
    }
    const words = (q || "").toLowerCase().split(/\s+/).filter(Boolean);
    const told = (record) => record.cells.join(" ").toLowerCase();
    const found = list.rows.filter((record) => words.every((word) => told(record).includes(word)));
    if (order.column !== null && order.column < list.headings.length) found.sort(compare(order.column, order.down));
    const n = found.length === list.rows.length ? String(found.length) : found.length + " of " + list.rows.length;
    const more = found.length > MOST_AT_ONCE ? "; the first " + MOST_AT_ONCE + " are shown: search for others" : "";
    const shown = found.slice(0, MOST_AT_ONCE).map(row(list));
    const nothing = element("tr", {}, element("td", { colspan: list.headings.length }, "Nothing holds these words. Clear the search."));
    container.replaceChildren(
      element("table", {},
        element("caption", { role: "status" }, n + (n === "1" ? " record" : " records") + more),
        element("thead", {}, head(list, () => isohume.drawRegister(list, q))),
        element("tbody", {}, shown.length ? shown : nothing)));
  };

  window.dash_clientside.isohume.draw_register = (list, q) => {
    isohume.drawRegister(list, q);
    const query = new URLSearchParams();
    if (q) query.set("q", q);
    window.history.replaceState(window.history.state, "", window.location.pathname + (q ? "?" + query : "") + window.location.hash);
    return window.dash_clientside.no_update;
  };

  /* A place of class "drop" says in data-address where a file goes; the answer says where to go on. */
  const token = () => decodeURIComponent((document.cookie.match(/(?:^|; )_csrf_token=([^;]*)/) || [])[1] || "");
  const send = (place, file) => {
    const say = (text) => { const told = place.querySelector(".drop-told"); if (told) told.textContent = text; };
    const largest = Number(place.dataset.largest);
    if (file.size > largest) return say(file.name + " is larger than " + Math.round(largest / 1e6) + " MB and was not sent.");
    const asked = new XMLHttpRequest();
    asked.open("POST", place.dataset.address);
    asked.setRequestHeader("X-CSRFToken", token());
    asked.setRequestHeader("X-File-Name", encodeURIComponent(file.name));
    if (place.dataset.about) asked.setRequestHeader("X-About", encodeURIComponent(place.dataset.about));
    const beside = place.dataset.beside && document.getElementById(place.dataset.beside);
    if (beside) asked.setRequestHeader("X-Beside", encodeURIComponent(beside.value));
    asked.setRequestHeader("Content-Type", "application/octet-stream");
    asked.upload.onprogress = (told) => say("Sending " + file.name + ": " + Math.round((100 * told.loaded) / Math.max(1, told.total)) + " %");
    asked.onload = () => {
      if (asked.status !== 200) return say(file.name + " was not taken: " + new DOMParser().parseFromString(asked.responseText, "text/html").body.textContent.trim().slice(0, 300));
      const answer = JSON.parse(asked.responseText);
      if (answer.go) window.dash_clientside.set_props("url", { pathname: answer.go });
      else window.dash_clientside.set_props("work-ended", { data: "received " + Date.now() });
    };
    asked.onerror = () => say(file.name + " did not arrive: the server cannot be reached.");
    asked.send(file);
  };
  const within = (event) => event.target.closest && event.target.closest(".drop[data-address]");
  document.addEventListener("dragover", (event) => { if (within(event)) { event.preventDefault(); within(event).classList.add("over"); } });
  document.addEventListener("dragleave", (event) => { if (within(event)) within(event).classList.remove("over"); });
  document.addEventListener("drop", (event) => {
    const place = within(event);
    if (!place) return;
    event.preventDefault();
    place.classList.remove("over");
    if (event.dataTransfer.files.length) send(place, event.dataTransfer.files[0]);
  });
  document.addEventListener("click", (event) => {
    const place = within(event);
    if (!place || !event.target.closest(".choose")) return;
    const input = document.createElement("input");
    input.type = "file";
    input.addEventListener("change", () => { if (input.files.length) send(place, input.files[0]); });
    input.click();
  });
})();

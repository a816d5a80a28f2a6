/* The list of all frames. It is drawn here, and not as Dash components, because Dash needs a second for every hundred rows. */
(function () {
  "use strict";
  const isohume = window.isohume;
  const element = isohume.element;

  const image = (src, width, height, className, alt) => element("img", { src, width, height, class: className, alt: alt || "" });

  const row = (frame) =>
    element("li", { class: "frame-row " + frame.tier + (frame.estimated ? " estimated" : "") + (frame.waiting ? " waiting" : "") },
      element("div", { class: "row-standing" },
        image(frame.sign, 30, 30, "sign"),
        element("div", {}, element("span", { class: "standing" }, frame.standing), element("span", { class: "due" }, frame.due))),
      element("div", { class: "row-words" },
        element("h3", {},
          element("a", { href: frame.address },
            element("span", { class: "frame-id" }, frame.id + " "),
            element("em", {}, frame.title),
            element("span", { class: "support" }, frame.support))),
        element("p", { class: "reason" }, frame.reason)),
      element("div", { class: "row-picture" },
        image(frame.picture, 312, 64, "small-picture", frame.picture_words),
        element("p", { class: "row-note" }, frame.notes.map((note) => element("span", {}, note)))),
      element("div", { class: "row-record" },
        element("p", { title: frame.doubts }, image(frame.data_sign, 21, 16, "sign"), " record " + frame.data),
        element("p", { class: "row-note" }, frame.newest)));

  const group = (title, lede, frames) =>
    element("section", { class: "group" },
      element("div", { class: "group-head" },
        element("h2", {}, title + " ", element("span", { class: "count" }, String(frames.length))),
        element("p", {}, lede)),
      element("ul", { class: "frame-list" }, frames.map(row)));

  const compare = {
    urgency: (a, b) => a.place - b.place,
    due: (a, b) => a.due_at - b.due_at || a.place - b.place,
    newest: (a, b) => a.newest_at - b.newest_at || a.place - b.place,
    name: (a, b) => a.id.localeCompare(b.id, "en", { numeric: true }),
    room: (a, b) => a.room.localeCompare(b.room) || a.id.localeCompare(b.id, "en", { numeric: true }),
  };

  /** Tell whether a frame fits the search words, the standings and the room that were asked for. */
  const wanted = (frame, words, standings, room) =>
    words.every((word) => frame.told.includes(word)) && (!standings.length || standings.includes(frame.standing_name)) && (!room || frame.room === room);

  isohume.drawFrames = (list, q, standings, room, sort) => {
    if (!list) return;
    const container = document.getElementById("frames-list");
    if (!container) {
      window.requestAnimationFrame(() => isohume.drawFrames(list, q, standings, room, sort)); // not on the page yet
      return;
    }
    if (!container.dataset.follows) {
      isohume.followWithin(container);
      container.dataset.follows = "yes";
    }
    const words = (q || "").toLowerCase().split(/\s+/).filter(Boolean);
    const chosen = list.frames.filter((frame) => wanted(frame, words, standings || [], room)).sort(compare[sort] || compare.urgency);
    const groups = list.groups
      .map(({ key, title, lede }) => [title, lede, chosen.filter((frame) => frame.group === key)])
      .filter(([, , members]) => members.length)
      .map(([title, lede, members]) => group(title, lede, members));
    const nothing = element("div", { class: "message" },
      element("h2", {}, "No frame fits"),
      element("p", {}, "Clear the search, or choose other standings or another room."));
    const focused = container.contains(document.activeElement) ? document.activeElement.getAttribute("href") : null;
    container.replaceChildren(...(groups.length ? groups : [nothing]));
    // Whoever was at a frame by the keyboard stays there when the list is drawn anew.
    if (focused) [...container.querySelectorAll("a")].filter((link) => link.getAttribute("href") === focused).forEach((link) => link.focus());
    container.setAttribute("aria-label", chosen.length + " of " + list.frames.length + " frames");
  };
})();
